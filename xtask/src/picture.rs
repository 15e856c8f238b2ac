//! A picture of the editor, drawn without a display, a window or a GPU: the screen is laid out by
//! the same code as in the plugin's window, and its triangles are filled by the processor.

mod raster;

use egui::{
    Context, Event, Pos2, RawInput, Rect, TexturesDelta, Theme, Vec2, ViewportId, ViewportInfo,
};
use ledgerline::choices::Choices;
use ledgerline::editor::screen::{self, Given, ScreenState};
use ledgerline::params;
use ledgerline_tests::watched::Watched;

use raster::{Image, Raster};

/// Frames that are laid out before the one that is drawn: sizes that depend on the frame before
/// have settled by then.
const SETTLING_FRAMES: usize = 3;

/// The editor as a PNG file.
///
/// # Errors
///
/// When the picture cannot be encoded, which only a size of nothing brings about.
pub fn render(
    size_points: Vec2,
    pixels_per_point: f32,
    theme: params::window::Theme,
    watched: &Watched,
    choices: &Choices,
) -> Result<Vec<u8>, png::EncodingError> {
    let mut state = ScreenState::new(theme);
    state.entries = watched.entries.clone();
    let given = Given { snapshot: &watched.snapshot, history: &watched.history };
    let mut choices = *choices;
    let image = draw(size_points, pixels_per_point, |ui| {
        screen::show(ui, given, &mut choices, &mut state);
    });
    encode(&image)
}

/// Whatever `show` lays out, as pixels.
pub fn draw(
    size_points: Vec2,
    pixels_per_point: f32,
    mut show: impl FnMut(&mut egui::Ui),
) -> Image {
    let context = Context::default();
    let mut textures = TexturesDelta::default();
    let mut shapes = Vec::new();
    for frame in 0..=SETTLING_FRAMES {
        let input = input(size_points, pixels_per_point, frame);
        let output = context.run_ui(input, &mut show);
        textures.append(output.textures_delta);
        shapes = output.shapes;
    }
    let primitives = context.tessellate(shapes, pixels_per_point);
    let pixels = size_points * pixels_per_point;
    let mut raster = Raster::new(pixels.x.round() as usize, pixels.y.round() as usize);
    raster.update(textures);
    raster.paint(&primitives, pixels_per_point);
    raster.into_image()
}

fn input(size_points: Vec2, pixels_per_point: f32, frame: usize) -> RawInput {
    let viewport =
        ViewportInfo { native_pixels_per_point: Some(pixels_per_point), ..ViewportInfo::default() };
    RawInput {
        screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size_points)),
        time: Some(frame as f64),
        system_theme: Some(Theme::Dark),
        // No pointer on the screen, so that nothing looks touched.
        events: vec![Event::PointerGone],
        viewports: std::iter::once((ViewportId::ROOT, viewport)).collect(),
        ..RawInput::default()
    }
}

/// An image as a PNG file.
///
/// # Errors
///
/// When the image has no pixels.
pub fn encode(image: &Image) -> Result<Vec<u8>, png::EncodingError> {
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, image.width as u32, image.height as u32);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(image.pixels.as_flattened())?;
    writer.finish()?;
    Ok(file)
}
