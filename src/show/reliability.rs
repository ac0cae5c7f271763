//! A picture of how chances came true.
//!
//! In: points (chance given, share that came true, how many). Out: an SVG page: each point on the
//! diagonal means that the chances were right.

use std::fmt::Write as _;

/// Side of the plot, pixels.
const SIDE: f64 = 360.0;
/// Room left and below for the figures, pixels.
const MARGIN: f64 = 60.0;

/// The picture. Points are in [0, 1]; larger ones stand for more forecasts.
pub fn reliability_svg(points: &[(f64, f64, usize)]) -> String {
    let width = SIDE + MARGIN + 30.0;
    let height = SIDE + MARGIN + 50.0;
    let x = |chance: f64| MARGIN + chance * SIDE;
    let y = |share: f64| 30.0 + (1.0 - share) * SIDE;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" font-family=\"sans-serif\" font-size=\"13\">\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"white\"/>\n\
         <rect x=\"{}\" y=\"{}\" width=\"{SIDE}\" height=\"{SIDE}\" fill=\"none\" stroke=\"black\"/>\n\
         <line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" stroke=\"gray\" stroke-dasharray=\"4 4\"/>\n",
        x(0.0),
        y(1.0),
        x(0.0),
        y(0.0),
        x(1.0),
        y(1.0)
    );
    for step in 0..=5 {
        let at = f64::from(step) / 5.0;
        let _ = writeln!(
            svg,
            "<text x=\"{:.0}\" y=\"{:.0}\" text-anchor=\"middle\">{} %</text>\n\
             <text x=\"{:.0}\" y=\"{:.0}\" text-anchor=\"end\">{} %</text>",
            x(at),
            y(0.0) + 20.0,
            step * 20,
            x(0.0) - 8.0,
            y(at) + 4.0,
            step * 20
        );
    }
    for &(chance, share, count) in points {
        let radius = 3.0 + (count as f64).log10().max(0.0) * 2.0;
        let _ = writeln!(
            svg,
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{radius:.1}\" fill=\"steelblue\"><title>{:.1} % given, {:.1} % so, {count} times</title></circle>",
            x(chance),
            y(share),
            100.0 * chance,
            100.0 * share
        );
    }
    let _ = writeln!(
        svg,
        "<text x=\"{:.0}\" y=\"{:.0}\" text-anchor=\"middle\">chance given when the tool said stop</text>\n\
         <text x=\"16\" y=\"{:.0}\" text-anchor=\"middle\" transform=\"rotate(-90 16 {:.0})\">share that came true</text>\n</svg>",
        x(0.5),
        y(0.0) + 45.0,
        y(0.5),
        y(0.5)
    );
    svg
}
