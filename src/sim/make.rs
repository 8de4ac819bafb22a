//! What a shaft is made of at one station of its course.

/// Half widths, filling and glow at one station. Left is the side against the normal, index 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Make {
    /// Half width of the hair to the left and right as drawn, scale teeth included, pixels.
    pub edge_px: [f32; 2],
    /// Half width to the outermost drawn boundary (sheath, film or lump included), teeth and grains averaged, pixels.
    pub outer_px: [f32; 2],
    /// Half width to the outermost boundary as drawn, with its roughness, pixels.
    pub shell_px: [f32; 2],
    /// Half width that counts as the shaft's own outline (see `truth`), pixels.
    pub counted_px: [f32; 2],
    /// Width of a channel of trapped air along the outside, pixels; 0 where the adhesive lies on. Never counts.
    pub air_px: [f32; 2],
    /// Depth along the line of sight as a share of the width: 1 round, less for a ribbon seen flat, more on edge.
    pub thickness: f32,
    /// Medulla diameter / hair diameter, 0 where there is none.
    pub medulla: f32,
    /// Loss of exciting and emitted light in the cortex, per µm.
    pub pigment_per_um: f32,
    /// Strength of the shaft's own glow.
    pub own: f32,
    /// Strength of added glow inside the hair.
    pub inside: f32,
    /// Strength of added glow in sheath or film.
    pub shell: f32,
    /// How much of the full added glow this station has, 0 to 1.
    pub glow: f32,
    /// How far the inner structure is broken down, 0 to 1.
    pub damage: f32,
}

impl Make {
    /// A round, clear, smooth, dark cylinder.
    pub fn bare(radius_px: f32) -> Make {
        Make {
            edge_px: [radius_px; 2],
            outer_px: [radius_px; 2],
            shell_px: [radius_px; 2],
            counted_px: [radius_px; 2],
            air_px: [0.0; 2],
            thickness: 1.0,
            medulla: 0.0,
            pigment_per_um: 0.0,
            own: 0.0,
            inside: 0.0,
            shell: 0.0,
            glow: 0.0,
            damage: 0.0,
        }
    }

    /// The outline's width that counts as truth, pixels.
    pub fn counted_width_px(&self) -> f64 {
        self.counted_px[0] as f64 + self.counted_px[1] as f64
    }
}
