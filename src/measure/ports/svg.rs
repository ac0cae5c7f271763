//! The unrolled land as an SVG drawing.
//!
//! Along the page: around the port, clockwise from the top. Down the page: from the open end to
//! the root, in the same scale where that leaves the drawing tall enough to read.

use std::fmt::Write;

use crate::measure::ports::{Examination, Land, Placement, Port, Thresholds};

/// Width of the whole drawing and of the land in it, in user units.
const PAGE: f64 = 900.0;
const LEFT: f64 = 80.0;
const WIDE: f64 = 680.0;
const TOP: f64 = 96.0;
/// The land is at least so tall, so that labels do not meet.
const TALL_AT_LEAST: f64 = 220.0;

/// How deep, with its colour and what it means. Told apart in grey as well.
const COLOURS: [&str; 4] = ["#f4f1ea", "#e8d3a2", "#d98b3a", "#8c1c13"];

/// Draws a port as a complete SVG document.
pub fn svg(port: &Port, found: &Examination, thresholds: &Thresholds) -> String {
    let scale = Scale::of(port);
    let bottom = scale.y(port.land_end_mm);
    let height = bottom + 126.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {PAGE:.0} {height:.0}\" role=\"img\" font-family=\"sans-serif\" font-size=\"14\" fill=\"#1f2328\">\n"
    );
    let name = escaped(&port.name);
    let _ = writeln!(svg, "<title>{name}: {}</title>", found.grade);
    let _ = writeln!(
        svg,
        "<rect width=\"{PAGE:.0}\" height=\"{height:.0}\" fill=\"#ffffff\"/>"
    );
    words(
        &mut svg,
        LEFT,
        32.0,
        "font-size=\"20\" font-weight=\"bold\"",
        &format!("{name}: {}", found.grade),
    );
    let about = format!(
        "{}, outside diameter {:.1} mm, deepest pit {:.1} mm, {:.0} % of the land pitted",
        port.material.name(),
        port.outside_diameter_mm,
        found.deepest_mm,
        found.pitted_share * 100.0
    );
    words(&mut svg, LEFT, 54.0, "", &about);
    axes(&mut svg, port, &scale, bottom);
    cells(&mut svg, &found.land, thresholds, &scale);
    if let Some(bead) = port.bead_mm {
        let (top, end) = (scale.y(bead[0]), scale.y(bead[1]));
        rect(&mut svg, LEFT, top, WIDE, end - top, "fill=\"#9aa4ad\"");
        words(
            &mut svg,
            LEFT + WIDE + 10.0,
            f64::midpoint(top, end) + 5.0,
            "",
            "bead",
        );
    }
    if let Some(as_found) = &found.found {
        clamp(
            &mut svg,
            as_found,
            &scale,
            "clamp as found",
            "stroke=\"#57606a\" stroke-dasharray=\"8 5\" fill=\"none\"",
            0.75,
        );
    }
    clamp(
        &mut svg,
        found.clamp(),
        &scale,
        "clamp here",
        "stroke=\"#0b5cad\" fill=\"#0b5cad\" fill-opacity=\"0.12\"",
        0.3,
    );
    for placement in found.found.iter().chain([found.clamp()]) {
        if placement.crossing.is_open() {
            channel(&mut svg, &found.land, placement, &scale);
        }
    }
    key(&mut svg, thresholds, bottom + 64.0);
    svg.push_str("</svg>\n");
    svg
}

/// Millimetres → places in the drawing.
struct Scale {
    per_mm: f64,
}

impl Scale {
    fn of(port: &Port) -> Self {
        let around = std::f64::consts::PI * port.outside_diameter_mm;
        Self {
            per_mm: (WIDE / around)
                .max(TALL_AT_LEAST / port.land_end_mm)
                .min(20.0),
        }
    }

    fn y(&self, along_mm: f64) -> f64 {
        TOP + along_mm * self.per_mm
    }
}

fn axes(svg: &mut String, port: &Port, scale: &Scale, bottom: f64) {
    rect(
        svg,
        LEFT,
        TOP,
        WIDE,
        bottom - TOP,
        "fill=\"#fbfaf7\" stroke=\"#1f2328\"",
    );
    for quarter in 0..=4 {
        let x = LEFT + WIDE * f64::from(quarter) / 4.0;
        let label = format!("{}°", quarter * 90);
        words(svg, x, TOP - 8.0, "text-anchor=\"middle\"", &label);
        line(svg, (x, TOP), (x, bottom), "stroke=\"#d0d7de\"");
    }
    // A mark every 5 mm, but every 10 mm on long ports.
    let step = if port.land_end_mm > 60.0 { 10.0 } else { 5.0 };
    let mut mm = 0.0;
    while mm <= port.land_end_mm + 1e-9 {
        let y = scale.y(mm);
        line(svg, (LEFT - 6.0, y), (LEFT, y), "stroke=\"#1f2328\"");
        words(
            svg,
            LEFT - 10.0,
            y + 5.0,
            "text-anchor=\"end\"",
            &format!("{mm:.0} mm"),
        );
        mm += step;
    }
    let middle = LEFT + WIDE / 2.0;
    words(
        svg,
        LEFT,
        TOP - 26.0,
        "font-size=\"12\"",
        "open end, wet side; clockwise from the top, seen from the open end",
    );
    words(
        svg,
        middle,
        bottom + 20.0,
        "text-anchor=\"middle\" font-size=\"12\"",
        "root, outside",
    );
}

/// Runs of cells of one class become one rectangle each.
fn cells(svg: &mut String, land: &Land, thresholds: &Thresholds, scale: &Scale) {
    let wide = WIDE / land.columns() as f64;
    let _ = writeln!(svg, "<g shape-rendering=\"crispEdges\">");
    for row in 0..land.rows() {
        let (y, tall) = (scale.y(land.along_mm(row)), land.row_mm * scale.per_mm);
        let mut start = 0;
        while start < land.columns() {
            let class = class(land.depth(row, start), thresholds);
            let end = (start..land.columns())
                .find(|column| self::class(land.depth(row, *column), thresholds) != class)
                .unwrap_or(land.columns());
            let fill = format!("fill=\"{}\"", COLOURS[class]);
            if class > 0 {
                rect(
                    svg,
                    LEFT + start as f64 * wide,
                    y,
                    (end - start) as f64 * wide,
                    tall,
                    &fill,
                );
            }
            start = end;
        }
    }
    svg.push_str("</g>\n");
}

fn class(depth_mm: f64, thresholds: &Thresholds) -> usize {
    if depth_mm <= 0.0 {
        0
    } else if depth_mm <= thresholds.hose_follows_mm {
        1
    } else if depth_mm <= thresholds.hose_follows_mm + thresholds.dressing_takes_mm {
        2
    } else {
        3
    }
}

fn clamp(
    svg: &mut String,
    placement: &Placement,
    scale: &Scale,
    label: &str,
    style: &str,
    down: f64,
) {
    let (top, bottom) = (scale.y(placement.from_mm), scale.y(placement.to_mm));
    rect(
        svg,
        LEFT - 4.0,
        top,
        WIDE + 8.0,
        bottom - top,
        &format!("stroke-width=\"2\" {style}"),
    );
    let y = top + (bottom - top) * down;
    let x = LEFT + WIDE + 10.0;
    words(svg, x, y, "", label);
    let edges = format!("{:.1} to {:.1} mm", placement.from_mm, placement.to_mm);
    words(svg, x, y + 15.0, "font-size=\"12\"", &edges);
}

fn channel(svg: &mut String, land: &Land, placement: &Placement, scale: &Scale) {
    let wide = WIDE / land.columns() as f64;
    let mut drawn = String::new();
    let mut last = None;
    for (row, column) in &placement.crossing.way {
        // Where the way runs over the edge of the drawing, it is taken up on the other side.
        let jumps = last.is_none_or(|last: usize| last.abs_diff(*column) > 1);
        let x = LEFT + (*column as f64 + 0.5) * wide;
        let y = scale.y(land.along_mm(*row) + 0.5 * land.row_mm);
        let _ = write!(drawn, "{}{x:.1} {y:.1} ", if jumps { "M" } else { "L" });
        last = Some(*column);
    }
    let drawn = drawn.trim_end();
    // A white edge lifts the line off dark pits.
    for (colour, wide) in [("#ffffff", 6), ("#0b5cad", 3)] {
        let _ = writeln!(
            svg,
            "<path d=\"{drawn}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{wide}\" stroke-linecap=\"round\" stroke-linejoin=\"round\"/>"
        );
    }
}

fn key(svg: &mut String, thresholds: &Thresholds, y: f64) {
    let follows = thresholds.hose_follows_mm;
    let dressing = follows + thresholds.dressing_takes_mm;
    let entries = [
        (COLOURS[1], format!("to {follows:.2} mm: the hose follows")),
        (
            COLOURS[2],
            format!("to {dressing:.2} mm: polishing reaches it"),
        ),
        (COLOURS[3], "deeper".to_owned()),
    ];
    for ((colour, label), x) in entries.iter().zip([LEFT, LEFT + 260.0, LEFT + 540.0]) {
        rect(
            svg,
            x,
            y - 13.0,
            18.0,
            16.0,
            &format!("fill=\"{colour}\" stroke=\"#1f2328\""),
        );
        words(svg, x + 26.0, y, "", label);
    }
    line(
        svg,
        (LEFT, y + 28.0),
        (LEFT + 18.0, y + 28.0),
        "stroke=\"#0b5cad\" stroke-width=\"3\"",
    );
    words(svg, LEFT + 26.0, y + 33.0, "", "channel under a clamp");
    words(
        svg,
        LEFT + 260.0,
        y + 33.0,
        "font-size=\"12\"",
        "Limits are engineering judgement: no published limit is known.",
    );
}

fn rect(svg: &mut String, x: f64, y: f64, wide: f64, tall: f64, style: &str) {
    let _ = writeln!(
        svg,
        "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{wide:.1}\" height=\"{tall:.1}\" {style}/>"
    );
}

fn line(svg: &mut String, from: (f64, f64), to: (f64, f64), style: &str) {
    let _ = writeln!(
        svg,
        "<line x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\" {style}/>",
        from.0, from.1, to.0, to.1
    );
}

/// Text that holds no mark-up, or has been escaped.
fn words(svg: &mut String, x: f64, y: f64, style: &str, text: &str) {
    let _ = writeln!(svg, "<text x=\"{x:.1}\" y=\"{y:.1}\" {style}>{text}</text>");
}

fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            // Characters that XML does not know are left out.
            c if c.is_control() && !matches!(c, '\t' | '\n' | '\r') => {}
            c => safe.push(c),
        }
    }
    safe
}
