//! With which of the system's ways of drawing the window is opened. One that is offered may fail when it is used, so the next is tried.

use eframe::egui_wgpu::{WgpuConfiguration, WgpuSetup, WgpuSetupCreateNew};
use eframe::wgpu::{AdapterInfo, Backends};

/// The ways of drawing in the order in which they are tried: first the system's own choice among all, then each by itself. `WGPU_BACKEND`
/// names one, and then no other is tried.
pub fn backends_to_try(named: Option<Backends>) -> Vec<Backends> {
    let alone = [Backends::VULKAN, Backends::GL, Backends::METAL, Backends::DX12];
    match named {
        Some(one) => vec![one],
        None => [&[Backends::PRIMARY | Backends::GL][..], &alone].concat(),
    }
}

/// What `WGPU_BACKEND` names, if it is set.
pub fn named_backends() -> Option<Backends> {
    Backends::from_env()
}

/// The options for drawing with one of them.
pub fn drawn_by(backends: Backends) -> WgpuConfiguration {
    let mut create = WgpuSetupCreateNew::without_display_handle();
    create.instance_descriptor.backends = backends;
    WgpuConfiguration { wgpu_setup: WgpuSetup::CreateNew(create), ..WgpuConfiguration::default() }
}

/// What is drawn with, in words for the log: `Vulkan, llvmpipe`.
pub fn words(info: &AdapterInfo) -> String {
    format!("{:?}, {}", info.backend, info.name)
}
