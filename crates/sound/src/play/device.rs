//! The system's sound device behind a trait: tests play on a fake one, and a machine without any plays in silence.

/// Fills a buffer with the next samples for a device, one channel. The second argument is when the first of them will be heard,
/// in microseconds of [`Device::now`].
pub type Fill = Box<dyn FnMut(&mut [f32], f64) + Send>;

/// A device that is playing. Dropping it stops it.
pub trait Running {
    /// What went wrong, if it has stopped playing since it started.
    fn failure(&self) -> Option<String>;
}

/// A sound output.
pub trait Device {
    /// The sample rate that it takes.
    ///
    /// # Errors
    /// Why there is no device, in words.
    fn sample_rate(&mut self) -> Result<f64, String>;

    /// Starts playing what `fill` provides.
    ///
    /// # Errors
    /// Why it cannot start, in words.
    fn start(&mut self, fill: Fill) -> Result<Box<dyn Running>, String>;

    /// Microseconds of a monotonic clock.
    fn now(&self) -> f64;
}

/// No device: everything plays in silence, timed by the system's clock.
pub struct NoDevice {
    begin: std::time::Instant,
}

impl Default for NoDevice {
    #[allow(clippy::disallowed_methods)] // devices have clocks
    fn default() -> NoDevice {
        NoDevice { begin: std::time::Instant::now() }
    }
}

impl Device for NoDevice {
    fn sample_rate(&mut self) -> Result<f64, String> {
        Err("this build plays no sound".to_owned())
    }

    fn start(&mut self, _: Fill) -> Result<Box<dyn Running>, String> {
        Err("this build plays no sound".to_owned())
    }

    fn now(&self) -> f64 {
        self.begin.elapsed().as_secs_f64() * 1e6
    }
}

#[cfg(not(feature = "device"))]
pub use NoDevice as System;

#[cfg(feature = "device")]
pub use system::System;

#[cfg(feature = "device")]
mod system {
    use super::{Device, Fill, NoDevice, Running};
    use cpal::traits::{DeviceTrait as _, HostTrait as _, StreamTrait as _};
    use cpal::{Error, ErrorKind, FromSample, OutputCallbackInfo, SampleFormat, SizedSample, StreamConfig};
    use std::sync::{Arc, Mutex, PoisonError};
    use std::time::Instant;

    /// The system's default output device.
    #[derive(Default)]
    pub struct System {
        clock: NoDevice,
        found: Option<(cpal::Device, StreamConfig, SampleFormat)>,
    }

    struct Stream {
        _stream: cpal::Stream,
        failure: Arc<Mutex<Option<String>>>,
    }

    impl Running for Stream {
        fn failure(&self) -> Option<String> {
            self.failure.lock().unwrap_or_else(PoisonError::into_inner).clone()
        }
    }

    impl System {
        fn find(&mut self) -> Result<&(cpal::Device, StreamConfig, SampleFormat), String> {
            let none = || "there is no sound device here".to_owned();
            let device = cpal::default_host().default_output_device().ok_or_else(none)?;
            let config =
                device.default_output_config().map_err(|e| format!("the sound device cannot be used ({e})"))?;
            Ok(self.found.insert((device, config.config(), config.sample_format())))
        }
    }

    fn stream<T: SizedSample + FromSample<f32>>(
        device: &cpal::Device,
        config: StreamConfig,
        begin: Instant,
        mut fill: Fill,
        failure: Arc<Mutex<Option<String>>>,
    ) -> Result<cpal::Stream, Error> {
        let channels = usize::from(config.channels).max(1);
        // Large enough for any block a device normally asks for; a larger one is filled in parts.
        let mut one = vec![0.0f32; 8192];
        let rate = f64::from(config.sample_rate.max(1));
        let give = move |out: &mut [T], info: &OutputCallbackInfo| {
            let stamp = info.timestamp();
            let ahead = stamp.playback.saturating_duration_since(stamp.callback).as_secs_f64() * 1e6;
            let mut heard = begin.elapsed().as_secs_f64() * 1e6 + ahead;
            for part in out.chunks_mut(one.len() * channels) {
                let mono = &mut one[..part.len() / channels];
                fill(mono, heard);
                heard += mono.len() as f64 / rate * 1e6;
                for (frame, sample) in part.chunks_mut(channels).zip(mono.iter()) {
                    frame.fill(T::from_sample(*sample));
                }
            }
        };
        let event = move |why: Error| {
            if !matches!(why.kind(), ErrorKind::DeviceChanged | ErrorKind::Xrun | ErrorKind::RealtimeDenied) {
                *failure.lock().unwrap_or_else(PoisonError::into_inner) = Some(why.to_string());
            }
        };
        device.build_output_stream(config, give, event, None)
    }

    impl Device for System {
        fn sample_rate(&mut self) -> Result<f64, String> {
            self.find().map(|(_, config, _)| f64::from(config.sample_rate))
        }

        fn start(&mut self, fill: Fill) -> Result<Box<dyn Running>, String> {
            let begin = self.clock.begin;
            let (device, config, format) = match &self.found {
                Some(found) => found,
                None => self.find()?,
            };
            let failure = Arc::new(Mutex::new(None));
            let event = failure.clone();
            let made = match format {
                SampleFormat::I16 => stream::<i16>(device, *config, begin, fill, event),
                SampleFormat::U16 => stream::<u16>(device, *config, begin, fill, event),
                SampleFormat::I32 => stream::<i32>(device, *config, begin, fill, event),
                SampleFormat::F32 => stream::<f32>(device, *config, begin, fill, event),
                other => return Err(format!("the sound device takes {other}, which is not written here")),
            };
            let made = made.and_then(|s| s.play().map(|()| s));
            let stream = made.map_err(|e| format!("the sound device does not play ({e})"))?;
            Ok(Box::new(Stream { _stream: stream, failure }))
        }

        fn now(&self) -> f64 {
            self.clock.now()
        }
    }
}
