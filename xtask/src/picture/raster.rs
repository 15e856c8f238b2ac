//! Fills the triangles of a tessellated screen, by the rules of the toolkit's own OpenGL painter:
//! colours are premultiplied and stay in gamma space, a vertex colour is multiplied with the
//! texture, sampled bilinearly, and laid over the eight-bit pixels below.

use std::collections::HashMap;

use egui::epaint::{ClippedPrimitive, ImageData, Mesh, Primitive, Vertex};
use egui::{Color32, Pos2, Rect, TextureFilter, TextureId, TexturesDelta, Vec2};

/// A finished picture.
pub struct Image {
    /// Width, in pixels.
    pub width: usize,
    /// Height, in pixels.
    pub height: usize,
    /// Red, green, blue and opacity of each pixel, line by line from the top left.
    pub pixels: Vec<[u8; 4]>,
}

/// A texture, such as the one that holds the glyphs.
struct Texture {
    width: usize,
    height: usize,
    texels: Vec<[f32; 4]>,
    linear: bool,
}

/// The painter: textures and pixels.
pub struct Raster {
    textures: HashMap<TextureId, Texture>,
    image: Image,
}

/// Pixels that may be written: from (inclusive) and to (exclusive).
#[derive(Clone, Copy)]
struct Scissor {
    from: [usize; 2],
    to: [usize; 2],
}

impl Raster {
    /// A transparent picture.
    #[must_use]
    pub fn new(width: usize, height: usize) -> Self {
        let pixels = vec![[0; 4]; width * height];
        Self { textures: HashMap::new(), image: Image { width, height, pixels } }
    }

    /// Takes new and changed textures.
    pub fn update(&mut self, mut delta: TexturesDelta) {
        for (id, images) in delta.set.drain() {
            for image in images {
                let linear = image.options.magnification == TextureFilter::Linear;
                let ImageData::Color(patch) = &image.image;
                let texels: Vec<_> = patch.pixels.iter().map(|c| unit(*c)).collect();
                let [width, height] = patch.size;
                match image.pos {
                    None => {
                        self.textures.insert(id, Texture { width, height, texels, linear });
                    }
                    Some([left, top]) => {
                        if let Some(texture) = self.textures.get_mut(&id) {
                            texture.patch(left, top, width, &texels);
                        }
                    }
                }
            }
        }
        delta.free.clear();
    }

    /// Paints what was tessellated at `pixels_per_point`.
    pub fn paint(&mut self, primitives: &[ClippedPrimitive], pixels_per_point: f32) {
        for ClippedPrimitive { clip_rect, primitive } in primitives {
            // The screen draws no callbacks, which would need a graphics interface.
            let Primitive::Mesh(mesh) = primitive else {
                continue;
            };
            let scissor = self.scissor(*clip_rect, pixels_per_point);
            if let Some(texture) = self.textures.get(&mesh.texture_id) {
                fill(&mut self.image, texture, mesh, scissor, pixels_per_point);
            }
        }
    }

    /// The finished picture.
    #[must_use]
    pub fn into_image(self) -> Image {
        self.image
    }

    fn scissor(&self, clip: Rect, pixels_per_point: f32) -> Scissor {
        let pixel = |points: f32, most: usize| {
            ((points * pixels_per_point).round().max(0.0) as usize).min(most)
        };
        let (width, height) = (self.image.width, self.image.height);
        Scissor {
            from: [pixel(clip.min.x, width), pixel(clip.min.y, height)],
            to: [pixel(clip.max.x, width), pixel(clip.max.y, height)],
        }
    }
}

impl Texture {
    fn patch(&mut self, left: usize, top: usize, width: usize, texels: &[[f32; 4]]) {
        for (row, line) in texels.chunks(width.max(1)).enumerate() {
            let start = (top + row) * self.width + left;
            if let Some(place) = self.texels.get_mut(start..start + line.len()) {
                place.copy_from_slice(line);
            }
        }
    }

    fn texel(&self, x: f32, y: f32) -> [f32; 4] {
        // Clamped to the edge, as the font texture asks for.
        let x = (x.max(0.0) as usize).min(self.width - 1);
        let y = (y.max(0.0) as usize).min(self.height - 1);
        self.texels[y * self.width + x]
    }

    fn sample(&self, uv: Pos2) -> [f32; 4] {
        let (x, y) = (uv.x * self.width as f32, uv.y * self.height as f32);
        if !self.linear {
            return self.texel(x.floor(), y.floor());
        }
        let (x, y) = (x - 0.5, y - 0.5);
        let (left, top) = (x.floor(), y.floor());
        let across = mix(self.texel(left, top), self.texel(left + 1.0, top), x - left);
        let below = mix(self.texel(left, top + 1.0), self.texel(left + 1.0, top + 1.0), x - left);
        mix(across, below, y - top)
    }
}

fn unit(colour: Color32) -> [f32; 4] {
    colour.to_array().map(|byte| f32::from(byte) / 255.0)
}

fn mix(a: [f32; 4], b: [f32; 4], share: f32) -> [f32; 4] {
    std::array::from_fn(|i| a[i] + (b[i] - a[i]) * share)
}

fn fill(
    image: &mut Image,
    texture: &Texture,
    mesh: &Mesh,
    scissor: Scissor,
    pixels_per_point: f32,
) {
    for corners in mesh.indices.chunks_exact(3) {
        let vertices = [0, 1, 2].map(|i| mesh.vertices[corners[i] as usize]);
        let triangle = Triangle::new(vertices, pixels_per_point);
        if let Some(triangle) = triangle {
            triangle.fill(image, texture, scissor);
        }
    }
}

/// A triangle in pixels, wound so that its inside is where all edge functions are positive.
struct Triangle {
    corners: [Pos2; 3],
    uvs: [Pos2; 3],
    colours: [[f32; 4]; 3],
    double_area: f32,
}

impl Triangle {
    fn new(mut vertices: [Vertex; 3], pixels_per_point: f32) -> Option<Self> {
        let at = |v: &Vertex| (v.pos.to_vec2() * pixels_per_point).to_pos2();
        let mut double_area =
            cross(at(&vertices[1]) - at(&vertices[0]), at(&vertices[2]) - at(&vertices[0]));
        if double_area < 0.0 {
            vertices.swap(1, 2);
            double_area = -double_area;
        }
        // A triangle without an area, or with a corner that is not a number, covers nothing.
        let corners = vertices.each_ref().map(at);
        let drawable =
            double_area > 0.0 && corners.iter().all(|c| c.x.is_finite() && c.y.is_finite());
        drawable.then(|| Self {
            corners,
            uvs: vertices.map(|v| v.uv),
            colours: vertices.map(|v| unit(v.color)),
            double_area,
        })
    }

    fn fill(&self, image: &mut Image, texture: &Texture, scissor: Scissor) {
        let bounds = Rect::from_points(&self.corners);
        let from = |low: f32, edge: usize| (low.floor().max(0.0) as usize).max(edge);
        let to = |high: f32, edge: usize| (high.ceil().max(0.0) as usize).min(edge);
        for y in from(bounds.min.y, scissor.from[1])..to(bounds.max.y, scissor.to[1]) {
            for x in from(bounds.min.x, scissor.from[0])..to(bounds.max.x, scissor.to[0]) {
                let centre = Pos2::new(x as f32 + 0.5, y as f32 + 0.5);
                if let Some(weights) = self.weights(centre) {
                    let pixel = &mut image.pixels[y * image.width + x];
                    blend(pixel, self.colour(weights, texture));
                }
            }
        }
    }

    /// How much of each corner a point holds; nothing outside. A point on an edge that two
    /// triangles share belongs to exactly one of them (the rule of top and left edges).
    fn weights(&self, point: Pos2) -> Option<[f32; 3]> {
        let mut weights = [0.0; 3];
        for (i, weight) in weights.iter_mut().enumerate() {
            let (start, end) = (self.corners[(i + 1) % 3], self.corners[(i + 2) % 3]);
            let edge = end - start;
            let inside = cross(edge, point - start);
            let top_or_left = edge.y < 0.0 || (edge.y == 0.0 && edge.x > 0.0);
            if inside < 0.0 || (inside == 0.0 && !top_or_left) {
                return None;
            }
            *weight = inside / self.double_area;
        }
        Some(weights)
    }

    fn colour(&self, weights: [f32; 3], texture: &Texture) -> [f32; 4] {
        let weigh = |values: [f32; 3]| (0..3).map(|i| weights[i] * values[i]).sum::<f32>();
        let uv = Pos2::new(weigh(self.uvs.map(|uv| uv.x)), weigh(self.uvs.map(|uv| uv.y)));
        let texel = texture.sample(uv);
        std::array::from_fn(|i| weigh(self.colours.map(|c| c[i])) * texel[i])
    }
}

fn cross(a: Vec2, b: Vec2) -> f32 {
    a.x * b.y - a.y * b.x
}

/// Lays a premultiplied colour over a pixel.
fn blend(pixel: &mut [u8; 4], over: [f32; 4]) {
    let rest = 1.0 - over[3];
    for (channel, over) in pixel.iter_mut().zip(over) {
        let sum = over * 255.0 + rest * f32::from(*channel);
        *channel = sum.round().clamp(0.0, 255.0) as u8;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::epaint::ColorImage;
    use egui::epaint::ImageDelta;
    use egui::epaint::textures::TextureOptions;
    use egui::{pos2, vec2};

    fn raster() -> Raster {
        let mut raster = Raster::new(4, 4);
        let mut delta = TexturesDelta::default();
        let white = ColorImage::filled([1, 1], Color32::WHITE);
        delta.push(TextureId::default(), ImageDelta::full(white, TextureOptions::LINEAR));
        raster.update(delta);
        raster
    }

    fn rectangle(rect: Rect, colour: Color32) -> Primitive {
        let mut mesh = Mesh::default();
        mesh.add_colored_rect(rect, colour);
        Primitive::Mesh(mesh)
    }

    fn paint(raster: &mut Raster, clip_rect: Rect, primitive: Primitive) {
        raster.paint(&[ClippedPrimitive { clip_rect, primitive }], 1.0);
    }

    fn everything() -> Rect {
        Rect::from_min_size(Pos2::ZERO, vec2(4.0, 4.0))
    }

    #[test]
    fn the_triangles_of_a_rectangle_share_their_edge_without_a_seam() {
        let mut raster = raster();
        let half = Color32::from_rgba_premultiplied(100, 0, 0, 100);
        paint(&mut raster, everything(), rectangle(everything(), half));
        assert!(
            raster.image.pixels.iter().all(|p| *p == [100, 0, 0, 100]),
            "{:?}",
            raster.image.pixels
        );
    }

    #[test]
    fn nothing_is_painted_outside_the_clip_rectangle() {
        let mut raster = raster();
        let clip = Rect::from_min_max(pos2(1.0, 1.0), pos2(3.0, 2.0));
        paint(&mut raster, clip, rectangle(everything(), Color32::WHITE));
        let painted: Vec<_> = (0..16).filter(|i| raster.image.pixels[*i] != [0; 4]).collect();
        assert_eq!(painted, [5, 6]);
    }

    #[test]
    fn premultiplied_colours_are_laid_over_each_other() {
        let mut raster = raster();
        paint(&mut raster, everything(), rectangle(everything(), Color32::from_rgb(200, 100, 0)));
        let over = Color32::from_rgba_premultiplied(0, 0, 51, 51);
        paint(&mut raster, everything(), rectangle(everything(), over));
        assert_eq!(raster.image.pixels[0], [160, 80, 51, 255]);
    }

    #[test]
    fn a_texture_is_sampled_between_its_texels() {
        let texels = vec![[0.0; 4], [1.0; 4]];
        let texture = Texture { width: 2, height: 1, texels, linear: true };
        assert_eq!(texture.sample(pos2(0.5, 0.5)), [0.5; 4]);
        assert_eq!(texture.sample(pos2(0.0, 0.5)), [0.0; 4]);
        assert_eq!(texture.sample(pos2(1.0, 0.5)), [1.0; 4]);
    }
}
