//! Draws egui's triangles on the CPU, so that pictures need neither display nor graphics driver.
use std::collections::HashMap;

use egui::epaint::{ImageData, ImageDelta, Primitive, Vertex};
use egui::{Color32, ColorImage, Rect, TextureId, TexturesDelta};
use image::{Rgba, RgbaImage};

/// Textures by id; frames are drawn into a fresh image.
#[derive(Default)]
pub struct CpuRenderer {
    textures: HashMap<TextureId, ColorImage>,
}

impl egui_kittest::TestRenderer for CpuRenderer {
    fn handle_delta(&mut self, delta: &mut TexturesDelta) {
        for (id, patches) in delta.set.drain() {
            for patch in &patches {
                self.patch(id, patch);
            }
        }
        for id in delta.free.drain() {
            self.textures.remove(&id);
        }
    }

    fn render(
        &mut self,
        ctx: &egui::Context,
        output: &egui::FullOutput,
    ) -> Result<RgbaImage, String> {
        let scale = output.pixels_per_point;
        let size = ctx.content_rect().size() * scale;
        let mut image = RgbaImage::from_pixel(
            size.x.round() as u32,
            size.y.round() as u32,
            Rgba([0, 0, 0, 255]),
        );
        for clipped in ctx.tessellate(output.shapes.clone(), scale) {
            if let Primitive::Mesh(mesh) = &clipped.primitive {
                let Some(texture) = self.textures.get(&mesh.texture_id) else { continue };
                let clip = clip_pixels(clipped.clip_rect, scale, &image);
                for [a, b, c] in mesh.triangles() {
                    let corners = [a, b, c].map(|k| mesh.vertices[k as usize]);
                    triangle(&mut image, clip, texture, corners, scale);
                }
            }
        }
        Ok(image)
    }
}

impl CpuRenderer {
    fn patch(&mut self, id: TextureId, patch: &ImageDelta) {
        let ImageData::Color(pixels) = &patch.image;
        match (patch.pos, self.textures.get_mut(&id)) {
            (Some([x0, y0]), Some(texture)) => {
                for y in 0..pixels.height() {
                    for x in 0..pixels.width() {
                        let at = (y0 + y) * texture.width() + x0 + x;
                        texture.pixels[at] = pixels.pixels[y * pixels.width() + x];
                    }
                }
            }
            _ => {
                self.textures.insert(id, ColorImage::clone(pixels));
            }
        }
    }
}

/// Clip rectangle in whole pixels: left, top, right, bottom (the last two excluded).
fn clip_pixels(clip: Rect, scale: f32, image: &RgbaImage) -> [i32; 4] {
    let edge = |v: f32, most: u32| ((v * scale).round() as i32).clamp(0, most as i32);
    [
        edge(clip.min.x, image.width()),
        edge(clip.min.y, image.height()),
        edge(clip.max.x, image.width()),
        edge(clip.max.y, image.height()),
    ]
}

/// Fills one triangle; a pixel belongs to it when its centre does (top-left rule on edges).
fn triangle(
    image: &mut RgbaImage,
    clip: [i32; 4],
    texture: &ColorImage,
    v: [Vertex; 3],
    scale: f32,
) {
    let p = v.map(|v| [f64::from(v.pos.x * scale), f64::from(v.pos.y * scale)]);
    let edge = |a: [f64; 2], b: [f64; 2], x: f64, y: f64| {
        (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])
    };
    let area = edge(p[0], p[1], p[2][0], p[2][1]);
    if area == 0.0 || !area.is_finite() {
        return;
    }
    let (p, v) = if area < 0.0 { ([p[0], p[2], p[1]], [v[0], v[2], v[1]]) } else { (p, v) };
    let area = area.abs();
    let owns = |a: [f64; 2], b: [f64; 2]| b[1] < a[1] || (b[1] == a[1] && b[0] > a[0]);
    let owned = [owns(p[1], p[2]), owns(p[2], p[0]), owns(p[0], p[1])];
    let low = |k: usize| p.iter().map(|c| c[k]).fold(f64::INFINITY, f64::min).floor() as i32;
    let high = |k: usize| p.iter().map(|c| c[k]).fold(f64::NEG_INFINITY, f64::max).ceil() as i32;
    let plain = v[0].uv == v[1].uv && v[1].uv == v[2].uv;
    let texel = plain.then(|| sample(texture, v[0].uv.x, v[0].uv.y));
    for y in low(1).max(clip[1])..high(1).min(clip[3]) {
        for x in low(0).max(clip[0])..high(0).min(clip[2]) {
            let (cx, cy) = (f64::from(x) + 0.5, f64::from(y) + 0.5);
            let w = [edge(p[1], p[2], cx, cy), edge(p[2], p[0], cx, cy), edge(p[0], p[1], cx, cy)];
            if (0..3).any(|k| w[k] < 0.0 || (w[k] == 0.0 && !owned[k])) {
                continue;
            }
            let w = w.map(|w| (w / area) as f32);
            let mix = |f: fn(&Vertex) -> f32| f(&v[0]) * w[0] + f(&v[1]) * w[1] + f(&v[2]) * w[2];
            let texel = texel.unwrap_or_else(|| sample(texture, mix(|v| v.uv.x), mix(|v| v.uv.y)));
            let colour = [
                mix(|v| f32::from(v.color.r())),
                mix(|v| f32::from(v.color.g())),
                mix(|v| f32::from(v.color.b())),
                mix(|v| f32::from(v.color.a())),
            ];
            let source: [f32; 4] = std::array::from_fn(|k| colour[k] * texel[k] / 255.0);
            let Rgba(under) = image.get_pixel_mut(x as u32, y as u32);
            for k in 0..3 {
                let over = source[k] + f32::from(under[k]) * (1.0 - source[3] / 255.0);
                under[k] = over.round().clamp(0.0, 255.0) as u8;
            }
        }
    }
}

/// Bilinear sample at texture coordinates 0…1, premultiplied, 0…255.
fn sample(texture: &ColorImage, u: f32, v: f32) -> [f32; 4] {
    let (w, h) = (texture.width(), texture.height());
    let at = |v: f32, n: usize| (v * n as f32 - 0.5).clamp(0.0, (n - 1) as f32);
    let (x, y) = (at(u, w), at(v, h));
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(w - 1), (y0 + 1).min(h - 1));
    let (fx, fy) = (x - x0 as f32, y - y0 as f32);
    let pixel = |x: usize, y: usize| {
        let c: Color32 = texture.pixels[y * w + x];
        [c.r(), c.g(), c.b(), c.a()].map(f32::from)
    };
    let (a, b, c, d) = (pixel(x0, y0), pixel(x1, y0), pixel(x0, y1), pixel(x1, y1));
    std::array::from_fn(|k| {
        let top = a[k] + (b[k] - a[k]) * fx;
        let bottom = c[k] + (d[k] - c[k]) * fx;
        top + (bottom - top) * fy
    })
}
