//! Gives the program for Windows its icon, its name and its version, as the system shows them. Other systems keep these beside the program.

#[allow(clippy::disallowed_methods)]
fn main() {
    println!("cargo:rerun-if-changed=../../assets/package/letfall.ico");
    println!("cargo:rerun-if-changed=build.rs");
    if std::env::var("CARGO_CFG_TARGET_OS").is_ok_and(|system| system == "windows") {
        let mut resource = winresource::WindowsResource::new();
        resource
            .set_icon("../../assets/package/letfall.ico")
            .set("FileDescription", "Letfall")
            .set("ProductName", "Letfall");
        // Newer Windows opens no console at all for a double click; older ones open one, which the program leaves.
        resource.set_manifest(
            r#"<assembly xmlns="urn:schemas-microsoft-com:asm.v1" manifestVersion="1.0">
  <application xmlns="urn:schemas-microsoft-com:asm.v3">
    <windowsSettings>
      <consoleAllocationPolicy xmlns="http://schemas.microsoft.com/SMI/2024/WindowsSettings">detached</consoleAllocationPolicy>
      <longPathAware xmlns="http://schemas.microsoft.com/SMI/2016/WindowsSettings">true</longPathAware>
      <dpiAwareness xmlns="http://schemas.microsoft.com/SMI/2016/WindowsSettings">PerMonitorV2</dpiAwareness>
      <activeCodePage xmlns="http://schemas.microsoft.com/SMI/2019/WindowsSettings">UTF-8</activeCodePage>
    </windowsSettings>
  </application>
</assembly>"#,
        );
        if let Err(why) = resource.compile() {
            println!("cargo:warning=the program has no icon and version of its own: {why}");
        }
    }
}
