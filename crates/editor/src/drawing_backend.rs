//! With which of the system's ways of drawing the window is opened. One that is offered may fail when it is used, so the next is tried.

use eframe::egui_wgpu::{WgpuConfiguration, WgpuSetup, WgpuSetupCreateNew};
use eframe::wgpu::{AdapterInfo, Backends};

/// The ways of drawing in the order in which they are tried: first the system's own choice among all, then each by itself. `WGPU_BACKEND`
/// names one, and then no other is tried.
pub fn backends_to_try() -> Vec<Backends> {
    let any = Backends::PRIMARY | Backends::GL;
    Backends::from_env()
        .map_or_else(|| vec![any, Backends::VULKAN, Backends::GL, Backends::METAL, Backends::DX12], |named| vec![named])
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
