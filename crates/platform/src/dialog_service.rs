//! Whether this system can show a file dialog.

/// Whether the system can show a file dialog. On Linux this needs a service on the session bus, which many machines lack. The
/// dialog library itself cannot tell "the user cancelled" from "no dialog was shown".
#[cfg(target_os = "linux")]
pub fn has_dialog_service() -> bool {
    let version = || {
        let bus = zbus::blocking::Connection::session()?;
        let at = "/org/freedesktop/portal/desktop";
        let portal = zbus::blocking::Proxy::new(
            &bus,
            "org.freedesktop.portal.Desktop",
            at,
            "org.freedesktop.portal.FileChooser",
        )?;
        portal.get_property::<u32>("version")
    };
    version().is_ok()
}

/// Whether the system can show a file dialog.
#[cfg(not(target_os = "linux"))]
pub fn has_dialog_service() -> bool {
    true
}
