//! Pictures of the window: asked for, developed a frame later, saved as PNG.
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use egui::{ColorImage, Context};

use crate::desk::output;

/// Holds a picture between the frame that took it and the one that saves it.
#[derive(Clone, Debug, Default)]
pub struct Camera {
    taken: Arc<Mutex<Option<Arc<ColorImage>>>>,
}

impl Camera {
    /// Asks for a picture of the next frame.
    pub fn take(&self, ctx: &Context) {
        let (taken, wake) = (Arc::clone(&self.taken), ctx.clone());
        ctx.request_screenshot(move |image| {
            *taken.lock().unwrap_or_else(PoisonError::into_inner) = Some(image);
            wake.request_repaint();
        });
    }

    /// The picture, once.
    pub fn developed(&self) -> Option<Arc<ColorImage>> {
        self.taken.lock().unwrap_or_else(PoisonError::into_inner).take()
    }
}

/// Saves a picture as `STATION-N.png` in `folder`, over none that is there.
///
/// # Errors
/// The file cannot be written; the words say what to do.
pub fn save(image: &ColorImage, folder: &Path, station: &str) -> Result<PathBuf, String> {
    let mut turn = 1;
    let mut path = folder.join(format!("{station}-{turn}.png"));
    while path.exists() {
        turn += 1;
        path = folder.join(format!("{station}-{turn}.png"));
    }
    let bytes = encode(image).map_err(|e| format!("{}: no picture ({e})", path.display()))?;
    output::write_whole(&path, &bytes).map_err(|e| e.to_string())?;
    Ok(path)
}

fn encode(image: &ColorImage) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let [width, height] = image.size.map(|n| n as u32);
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(image.as_raw())?;
    writer.finish()?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_are_whole_and_never_replace_one() {
        let folder = tempfile::tempdir().expect("a folder");
        let image = ColorImage::filled([6, 4], egui::Color32::from_rgb(1, 2, 3));
        let first = save(&image, folder.path(), "sticks").expect("saved");
        let second = save(&image, folder.path(), "sticks").expect("saved");
        assert_ne!(first, second);
        let read = image::open(&first).expect("a picture").to_rgba8();
        assert_eq!(read.dimensions(), (6, 4));
        assert_eq!(read.get_pixel(5, 3).0, [1, 2, 3, 255]);
    }
}
