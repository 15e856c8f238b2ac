//! The picture renderer of the demo as a renderer of the test harness, so that it can be held
//! against a graphics driver.

use egui::TexturesDelta;
use egui_kittest::TestRenderer;
use image::RgbaImage;

use crate::raster::Raster;

/// Draws with the processor.
pub struct Software {
    /// Textures as they came; the picture's size is known only when it is drawn.
    textures: TexturesDelta,
}

impl Software {
    /// A renderer without textures.
    pub fn new() -> Self {
        Self { textures: TexturesDelta::default() }
    }
}

impl TestRenderer for Software {
    fn handle_delta(&mut self, delta: &mut TexturesDelta) {
        self.textures.append(std::mem::take(delta));
    }

    fn render(
        &mut self,
        ctx: &egui::Context,
        output: &egui::FullOutput,
    ) -> Result<RgbaImage, String> {
        let pixels = ctx.content_rect().size() * ctx.pixels_per_point();
        let primitives = ctx.tessellate(output.shapes.clone(), ctx.pixels_per_point());
        let mut raster = Raster::new(pixels.x.round() as usize, pixels.y.round() as usize);
        raster.update(std::mem::take(&mut self.textures));
        raster.paint(&primitives, ctx.pixels_per_point());
        let image = raster.into_image();
        RgbaImage::from_raw(image.width as u32, image.height as u32, image.pixels.into_flattened())
            .ok_or_else(|| "the picture has another size than its pixels".into())
    }
}
