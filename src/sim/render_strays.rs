//! Stray things to light and loss on the pixel grid.

use super::layer::Layer;
use super::scene::Scene;
use super::strays::{Section, Stray, Stroke};
use super::texture;
use crate::maths::point::Point;

/// Size of the blotches in a stray thing's light, pixels.
const BLOTCH_PX: f32 = 14.0;

/// A dense rectangle of light, on pixels of the photo and a margin.
struct Sheet {
    left: i32,
    top: i32,
    width: usize,
    light: Vec<f32>,
}

/// The light and loss of a stray thing; `None` when it lies wholly outside the photo.
pub(super) fn stray_layer(scene: &Scene, stray: &Stray, glow: [f32; 3]) -> Option<Layer> {
    let mut sheet = Sheet::around(scene, stray)?;
    for stroke in &stray.strokes {
        sheet.draw(stroke, stray.section);
    }
    let rows: Vec<&[f32]> = sheet.light.chunks(sheet.width).collect();
    let spans: Vec<Option<(i32, i32)>> = rows
        .iter()
        .map(|row| {
            let first = row.iter().position(|v| *v > 0.0)?;
            let last = row.iter().rposition(|v| *v > 0.0)?;
            Some((sheet.left + first as i32, sheet.left + last as i32))
        })
        .collect();
    let mut layer = Layer::over(sheet.top, &spans);
    for (j, row) in rows.iter().enumerate() {
        for (i, &light) in row.iter().enumerate().filter(|(_, light)| **light > 0.0) {
            let (x, y) = (sheet.left + i as i32, sheet.top + j as i32);
            let blotch = texture::rough(stray.texture, x as f32 / BLOTCH_PX, y as f32 / BLOTCH_PX);
            let strength = light * stray.strength as f32 * (1.0 + stray.blotches * blotch).max(0.0);
            let lost = (light * stray.lost as f32).min(1.0);
            layer.add(x, y, [strength * glow[0], strength * glow[1], strength * glow[2], lost]);
        }
    }
    Some(layer)
}

impl Sheet {
    /// Dark, as large as the stray thing and the photo's surroundings that its blur reaches from.
    fn around(scene: &Scene, stray: &Stray) -> Option<Sheet> {
        let margin = 4.0 * stray.blur_px + 1.0;
        let mut low = Point::new(f64::INFINITY, f64::INFINITY);
        let mut high = Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (p, half) in stray.strokes.iter().flat_map(|s| s.points.iter().zip(&s.half_px)) {
            low = Point::new(low.x.min(p.x - half), low.y.min(p.y - half));
            high = Point::new(high.x.max(p.x + half), high.y.max(p.y + half));
        }
        let clip = |low: f64, high: f64, size: usize| {
            let (from, to) = ((low - 1.0).max(-margin).floor(), (high + 1.0).min(size as f64 + margin).ceil());
            (from < to).then_some((from as i32, to as i32))
        };
        let (left, right) = clip(low.x, high.x, scene.width_px)?;
        let (top, bottom) = clip(low.y, high.y, scene.height_px)?;
        let (width, height) = ((right - left + 1) as usize, (bottom - top + 1) as usize);
        Some(Sheet { left, top, width, light: vec![0.0; width * height] })
    }

    fn draw(&mut self, stroke: &Stroke, section: Section) {
        let height = (self.light.len() / self.width) as i32;
        for (points, halves) in stroke.points.windows(2).zip(stroke.half_px.windows(2)) {
            let (a, b) = (points[0], points[1]);
            let along = b - a;
            let length_sq = along.dot(along).max(1e-12);
            let reach = halves[0].max(halves[1]) + 1.0;
            let range = |p: f64, q: f64, from: i32, n: i32| {
                let first = ((p.min(q) - reach).floor() as i32 - from).clamp(0, n);
                let end = ((p.max(q) + reach).ceil() as i32 + 1 - from).clamp(0, n);
                first..end
            };
            for j in range(a.y, b.y, self.top, height) {
                for i in range(a.x, b.x, self.left, self.width as i32) {
                    let off = Point::new((i + self.left) as f64, (j + self.top) as f64) - a;
                    let t = (off.dot(along) / length_sq).clamp(0.0, 1.0);
                    let away = off - along * t;
                    let distance = away.dot(away).sqrt();
                    let half = halves[0] + (halves[1] - halves[0]) * t;
                    // Share of the pixel inside, and the light there: just inside the edge where the edge cuts it.
                    let inside = (half - distance + 0.5).clamp(0.0, 1.0);
                    if inside > 0.0 {
                        let q = (distance - 0.5 * (1.0 - inside)).max(0.0) / half;
                        let light = (inside * section.light(q.min(0.98))) as f32;
                        let at = &mut self.light[j as usize * self.width + i as usize];
                        *at = at.max(light);
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::stray_layer;
    use crate::maths::point::Point;
    use crate::sim::strays::{Section, Stray, StrayKind, Stroke};
    use crate::sim::{Condition, Ranges, Scene, spectra};

    fn bar(section: Section, points: Vec<Point>) -> Stray {
        Stray {
            kind: StrayKind::Cracks,
            strokes: vec![Stroke { half_px: vec![5.0; points.len()], points }],
            section,
            strength: 2.0,
            lost: 0.5,
            spectrum: spectra::dander(0.5),
            blur_px: 1.0,
            blotches: 0.0,
            texture: 1,
        }
    }

    #[test]
    fn a_level_bar_holds_the_light_of_its_section() {
        let scene = Scene::draw(1, &Ranges::training().under(Condition::Empty));
        // Across a flat bar ten wide at strength 2: 20; a solid rod: a half disc of radius 5, 2 · π · 5 / 2.
        for (section, wanted) in [(Section::Flat, 20.0), (Section::Solid, 5.0 * std::f32::consts::PI)] {
            let stray = bar(section, vec![Point::new(100.0, 200.3), Point::new(300.0, 200.3)]);
            let layer = stray_layer(&scene, &stray, [1.0; 3]).unwrap();
            let column = |x: i32| -> f32 {
                layer.rows().filter_map(|(_, first, row)| row.get(usize::try_from(x - first).ok()?)).map(|l| l[0]).sum()
            };
            let got = column(200);
            assert!((got / wanted - 1.0).abs() < 0.03, "{section:?}: {got} for {wanted}");
        }
    }

    #[test]
    fn what_lies_outside_is_not_drawn() {
        let scene = Scene::draw(1, &Ranges::training().under(Condition::Empty));
        let far = bar(Section::Flat, vec![Point::new(-900.0, -900.0), Point::new(-300.0, -900.0)]);
        assert!(stray_layer(&scene, &far, [1.0; 3]).is_none());
    }
}
