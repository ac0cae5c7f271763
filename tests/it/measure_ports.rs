//! Hose ports: hand-drawn maps whose answers can be seen, and the published slot formula worked
//! out by hand. The thresholds are the author's judgement; only their working is checked here.

use proptest::prelude::{prop, prop_assert, prop_assert_eq, proptest};
use seepwise::measure::coolant::{Basis, Glycol, Mixture};
use seepwise::measure::ports::{
    DepthGrid, Grade, Land, Material, Note, Pit, Port, PortError, Reason, Thresholds, bench,
    best_clamp, crossing, examine, leak_at_most, slot_flow, svg, text,
};

fn near(found: f64, wanted: f64, tolerance: f64) {
    assert!(
        (found - wanted).abs() <= tolerance,
        "{found} is not {wanted} ± {tolerance}"
    );
}

/// A land of 1 mm cells from a drawing: `#` is 0.5 mm deep, `.` is sound.
fn land(drawing: &[&str]) -> Land {
    let depths: Vec<Vec<f64>> = drawing
        .iter()
        .map(|row| {
            row.chars()
                .map(|c| if c == '#' { 0.5 } else { 0.0 })
                .collect()
        })
        .collect();
    Land::new(0.0, 1.0, 1.0, &depths)
}

fn sound_mm(drawing: &[&str]) -> f64 {
    let land = land(drawing);
    crossing(&land, 0..land.rows(), 0.1).unwrap().sound_mm
}

#[test]
fn a_straight_score_is_a_channel() {
    let drawing = ["..#.....", "..#.....", "..#.....", "..#....."];
    near(sound_mm(&drawing), 0.0, 0.0);
    let way = crossing(&land(&drawing), 0..4, 0.1).unwrap().way;
    assert_eq!(way, [(0, 2), (1, 2), (2, 2), (3, 2)]);
}

#[test]
fn corners_that_touch_are_a_channel() {
    near(
        sound_mm(&["#.......", ".#......", "..#.....", ".#......"]),
        0.0,
        0.0,
    );
}

#[test]
fn a_channel_may_run_across_the_top() {
    // Column 7 touches column 0.
    near(
        sound_mm(&["#.......", "#.......", ".......#", "......#."]),
        0.0,
        0.0,
    );
    // The same with one column of sound land between: no channel.
    assert!(sound_mm(&[".#......", ".#......", ".......#", "......#."]) > 0.5);
}

#[test]
fn a_channel_may_turn_back() {
    let drawing = ["#.......", "#.###...", "#.#.#...", "###.#...", "....#..."];
    near(sound_mm(&drawing), 0.0, 0.0);
}

#[test]
fn a_ring_of_sound_land_stops_it() {
    // One ring of 1 mm: straight through it, half a cell on either side counts half.
    near(
        sound_mm(&["..##....", "..##....", "........", "..##...."]),
        1.0,
        1e-6,
    );
    near(sound_mm(&["........", "........", "........"]), 3.0, 1e-6);
    near(
        sound_mm(&["########", "........", "........", "########"]),
        2.0,
        1e-6,
    );
}

#[test]
fn a_way_is_as_hard_as_its_sound_land() {
    // Two pits at a knight's move: the shortest sound stretch between their cells' middles is
    // straight across one sound cell and half-way round a corner: √2/2 + √2/2 = 1.414 at most.
    let found = sound_mm(&["#.......", "........", ".#......", ".#......"]);
    assert!((1.0..=1.415).contains(&found), "{found}");
}

#[test]
fn hollows_that_the_hose_follows_do_not_count() {
    let depths = vec![vec![0.08; 8]; 5];
    let land = Land::new(0.0, 1.0, 1.0, &depths);
    near(crossing(&land, 0..5, 0.1).unwrap().sound_mm, 5.0, 1e-6);
    near(crossing(&land, 0..5, 0.05).unwrap().sound_mm, 0.0, 0.0);
}

#[test]
fn the_clamp_goes_to_the_first_place_that_seals() {
    let land = land(&[
        "...#....", // 0
        "...#....", // 1
        "...#....", // 2
        "........", // 3
        "........", // 4
        "........", // 5
        "........", // 6
        "..#.....", // 7
    ]);
    let best = best_clamp(&land, 4.0, 8.0, 0.1, 3.0).unwrap();
    assert_eq!(best.rows, 2..6); // rows 3, 4, 5 are sound
    near(best.crossing.sound_mm, 3.0, 1e-6);
    // Asking for all four: one row further.
    assert_eq!(best_clamp(&land, 4.0, 8.0, 0.1, 4.0).unwrap().rows, 3..7);
    // Asking for more than there is: the place with most.
    assert_eq!(best_clamp(&land, 5.0, 8.0, 0.1, 5.0).unwrap().rows, 2..7);
    assert!(best_clamp(&land, 9.0, 8.0, 0.1, 3.0).is_none());
}

/// A second method: flooding over single cells, written for the test, on random maps.
fn flooded(drawing: &[Vec<bool>]) -> bool {
    let (rows, columns) = (drawing.len(), drawing[0].len());
    let mut wet = vec![vec![false; columns]; rows];
    for _ in 0..rows * columns {
        for row in 0..rows {
            for column in 0..columns {
                if !drawing[row][column] {
                    continue;
                }
                let mut reached = row == 0;
                for near_row in &wet[row.saturating_sub(1)..(row + 2).min(rows)] {
                    for side in [columns - 1, 0, 1] {
                        reached |= near_row[(column + side) % columns];
                    }
                }
                wet[row][column] |= reached;
            }
        }
    }
    wet[rows - 1].contains(&true)
}

proptest! {
    #[test]
    fn channels_agree_with_flooding(cells in prop::collection::vec(prop::collection::vec(prop::bool::weighted(0.45), 9), 6)) {
        let depths: Vec<Vec<f64>> = cells.iter().map(|row| row.iter().map(|pit| if *pit { 0.5 } else { 0.0 }).collect()).collect();
        let land = Land::new(0.0, 1.0, 1.0, &depths);
        let found = crossing(&land, 0..6, 0.1).unwrap();
        prop_assert_eq!(found.is_open(), flooded(&cells));
        prop_assert_eq!(leak_at_most(&land, 0..6, 0.1, 80.0, 4.0, 1060.0) > 0.0, flooded(&cells));
        prop_assert!(found.sound_mm <= 6.0);
        prop_assert_eq!(found.way.first().unwrap().0, 0);
        prop_assert_eq!(found.way.last().unwrap().0, 5);
        // Turning the port changes nothing.
        let turned: Vec<Vec<f64>> = depths.iter().map(|row| { let mut row = row.clone(); row.rotate_left(4); row }).collect();
        let turned = crossing(&Land::new(0.0, 1.0, 1.0, &turned), 0..6, 0.1).unwrap();
        prop_assert!((turned.sound_mm - found.sound_mm).abs() < 1e-9);
    }
}

/// Published formula, plane Poiseuille flow q = w·h³·Δp/(12·µ·L), worked out by hand at
/// Δp = 82.737 kPa in 50 % ethylene glycol at 20 °C (3.980 mPa·s) and 90 °C (0.868 mPa·s).
#[test]
fn slot_flow_is_the_published_formula() {
    for (wide, high, long, cold, hot) in [
        (2.0, 0.05, 20.0, 1.299, 5.959),
        (1.0, 0.02, 20.0, 0.0416, 0.1907),
    ] {
        near(
            slot_flow(wide, high, long, 82.737, 3.980, 1068.3).ml_per_min,
            cold,
            0.001 * cold + 5e-5,
        );
        near(
            slot_flow(wide, high, long, 82.737, 0.868, 1021.8).ml_per_min,
            hot,
            0.001 * hot + 5e-5,
        );
    }
    // Hot over cold: 4.586, the ratio of the viscosities.
    let half = Mixture::new(Glycol::Ethylene, Basis::Pure, 50.0).unwrap();
    let at = |celsius: f64| {
        let (mu, rho) = (
            half.viscosity_mpa_s(celsius).unwrap(),
            half.density(celsius).unwrap(),
        );
        slot_flow(2.0, 0.05, 20.0, 82.737, mu, rho).ml_per_min
    };
    near(at(90.0) / at(20.0), 4.586, 0.05 * 4.586);
    // Re = 2ρq/(wµ): q = 1.299 mL/min = 2.165e-8 m³/s → 2·1068.3·2.165e-8/(0.002·0.00398) = 5.81.
    let slow = slot_flow(2.0, 0.05, 20.0, 82.737, 3.980, 1068.3);
    near(slow.reynolds, 5.81, 0.01);
    assert!(slow.is_laminar());
    assert!(!slot_flow(5.0, 1.0, 10.0, 100.0, 0.868, 1021.8).is_laminar());
}

/// A straight pit is one slot: both ways of working it out must agree.
#[test]
fn a_straight_pit_leaks_as_its_slot() {
    let depths: Vec<Vec<f64>> = (0..20)
        .map(|_| {
            (0..40)
                .map(|column| {
                    if (10..12).contains(&column) {
                        0.15
                    } else {
                        0.0
                    }
                })
                .collect()
        })
        .collect();
    let land = Land::new(0.0, 1.0, 1.0, &depths);
    let slot = slot_flow(2.0, 0.05, 20.0, 82.737, 3.980, 1068.3).ml_per_min;
    near(
        leak_at_most(&land, 0..20, 0.1, 82.737, 3.980, 1068.3),
        slot,
        1e-9,
    );
    near(slot, 1.299, 0.001);
    // A dead end beside it adds nothing.
    let mut with_dead_end = depths.clone();
    with_dead_end[0][30] = 0.15;
    let land = Land::new(0.0, 1.0, 1.0, &with_dead_end);
    near(
        leak_at_most(&land, 0..20, 0.1, 82.737, 3.980, 1068.3),
        slot,
        1e-9,
    );
}

/// Bernoulli, by hand: 4 mm × 0.4 mm at 100 kPa and 1000 kg/m³ pass at most
/// 1.6e-6 m² × √200 m/s = 2.263e-5 m³/s = 1357.6 mL/min, whatever the laminar formula says.
#[test]
fn a_wide_channel_is_bounded_by_pressure_alone() {
    let depths: Vec<Vec<f64>> = (0..5)
        .map(|_| {
            (0..40)
                .map(|column| if column < 4 { 0.5 } else { 0.0 })
                .collect()
        })
        .collect();
    let land = Land::new(0.0, 1.0, 1.0, &depths);
    near(
        leak_at_most(&land, 0..5, 0.1, 100.0, 0.8, 1000.0),
        1357.6,
        0.1,
    );
}

fn port() -> Port {
    Port {
        name: "rear housing".to_owned(),
        material: Material::Alloy,
        outside_diameter_mm: 38.0,
        bead_mm: Some([2.0, 5.0]),
        land_end_mm: 30.0,
        wall_mm: Some(4.0),
        hose_end_mm: None,
        clamp_width_mm: 10.0,
        clamp_at_mm: None,
        pits: Vec::new(),
        grid: None,
    }
}

fn pit(around: [f64; 2], along: [f64; 2], depth_mm: f64) -> Pit {
    Pit {
        around_deg: around,
        along_mm: along,
        depth_mm,
    }
}

#[test]
fn a_sound_port_is_used_with_the_clamp_behind_the_bead() {
    let found = examine(&port(), &Thresholds::default()).unwrap();
    assert_eq!((found.grade, found.reason), (Grade::Use, Reason::Seals));
    near(found.clamp().from_mm, 5.0, 0.3);
    near(found.clamp().to_mm, 15.0, 0.3);
    assert!(found.notes.is_empty());
}

#[test]
fn pits_behind_a_clamp_set_back() {
    let mut port = port();
    port.clamp_at_mm = Some(16.0);
    port.pits = vec![pit([350.0, 20.0], [14.0, 30.0], 0.6)];
    let found = examine(&port, &Thresholds::default()).unwrap();
    // As found it leaked, behind the bead there is sound land.
    assert!(found.found.as_ref().unwrap().crossing.is_open());
    assert!(found.notes.contains(&Note::ChannelAsFound));
    assert!(
        found.notes.iter().any(
            |note| matches!(note, Note::ClampSetBack { by_mm } if (*by_mm - 11.0).abs() < 1e-9)
        )
    );
    assert_eq!(found.grade, Grade::Use);
    near(found.clamp().from_mm, 5.0, 0.3);
}

#[test]
fn grades_follow_depth_share_wall_and_material() {
    let thresholds = Thresholds::default();
    let graded = |material: Material, wall_mm: Option<f64>, pits: Vec<Pit>| {
        let port = Port {
            material,
            wall_mm,
            pits,
            ..port()
        };
        let found = examine(&port, &thresholds).unwrap();
        (found.grade, found.reason)
    };
    let score = |depth: f64| vec![pit([90.0, 92.0], [5.0, 30.0], depth)];
    assert_eq!(
        graded(Material::Alloy, Some(4.0), score(0.08)).0,
        Grade::Use
    );
    assert_eq!(
        graded(Material::Alloy, Some(4.0), score(0.25)).0,
        Grade::DressAndSeal
    );
    assert_eq!(
        graded(Material::Plastic, Some(4.0), score(0.25)).0,
        Grade::DressAndSeal
    );
    assert_eq!(
        graded(Material::Alloy, Some(4.0), score(1.0)),
        (Grade::BuildUp, Reason::TooDeepToDress)
    );
    assert_eq!(
        graded(Material::Plastic, Some(4.0), score(1.0)),
        (Grade::Scrap, Reason::Plastic)
    );
    assert_eq!(
        graded(Material::Alloy, Some(4.0), score(2.0)),
        (Grade::Scrap, Reason::TooDeep)
    );
    assert!(matches!(
        graded(Material::Alloy, Some(2.0), score(1.0)),
        (Grade::Scrap, Reason::ThinWall { .. })
    ));
    let wide = vec![pit([0.0, 250.0], [5.0, 30.0], 1.0)];
    assert!(matches!(
        graded(Material::Alloy, Some(4.0), wide),
        (Grade::Scrap, Reason::TooMuch { .. })
    ));
}

#[test]
fn pits_and_grid_say_the_same() {
    let mut boxed = port();
    boxed.pits = vec![pit([270.0, 360.0], [10.0, 20.0], 0.5)];
    let mut gridded = port();
    gridded.grid = Some(DepthGrid {
        along_mm: [0.0, 30.0],
        depths_mm: vec![vec![0.0; 4], vec![0.0, 0.0, 0.0, 0.5], vec![0.0; 4]],
    });
    assert_eq!(Land::of(&boxed), Land::of(&gridded));
    let land = Land::of(&boxed);
    // A quarter of the way round, 10 of 25 mm.
    near(land.share_deeper_than(0.1), 0.1, 0.01);
    near(land.deepest_mm(), 0.5, 0.0);
}

#[test]
fn a_thin_score_between_two_cells_is_not_lost() {
    let mut port = port();
    port.pits = vec![pit([100.0, 100.1], [5.0, 30.0], 0.6)];
    let found = examine(&port, &Thresholds::default()).unwrap();
    assert!(found.best.crossing.is_open());
}

#[test]
fn wrong_descriptions_are_all_told() {
    let mut port = port();
    port.outside_diameter_mm = 0.0;
    port.bead_mm = Some([5.0, 2.0]);
    port.pits = vec![
        pit([0.0, 400.0], [10.0, 20.0], 0.5),
        pit([0.0, 40.0], [10.0, 50.0], -1.0),
        pit([0.0, 40.0], [10.0, 12.0], f64::NAN),
    ];
    port.grid = Some(DepthGrid {
        along_mm: [0.0, 10.0],
        depths_mm: vec![vec![0.0; 4], vec![0.0; 5]],
    });
    let wrong = examine(&port, &Thresholds::default()).unwrap_err();
    assert_eq!(wrong.len(), 7, "{wrong:?}");
    assert!(wrong.iter().all(|error| !error.to_string().is_empty()));
    let wide = Port {
        clamp_width_mm: 25.0,
        ..self::port()
    };
    assert!(matches!(
        examine(&wide, &Thresholds::default()).unwrap_err()[..],
        [PortError::NoRoom { .. }]
    ));
    let thresholds = Thresholds {
        sound_land_mm: f64::NAN,
        ..Thresholds::default()
    };
    assert!(matches!(
        examine(&self::port(), &thresholds).unwrap_err()[..],
        [PortError::Threshold { .. }]
    ));
}

#[test]
fn unknown_keys_of_a_port_are_refused() {
    let good = r#"{"name": "a", "material": "steel", "outside_diameter_mm": 38, "land_end_mm": 30,
        "clamp_width_mm": 10, "pits": [{"around_deg": [0, 5], "along_mm": [5, 9], "depth_mm": 0.3}]}"#;
    let port: Port = serde_json::from_str(good).unwrap();
    assert_eq!(port.pits.len(), 1);
    for bad in [
        good.replace("\"name\"", "\"nmae\""),
        good.replace("depth_mm", "depth"),
        good.replace("steel", "gold"),
    ] {
        assert!(serde_json::from_str::<Port>(&bad).is_err());
    }
}

fn bench_ports() -> Vec<Port> {
    let with = |name: &str, pits: Vec<Pit>| Port {
        name: name.to_owned(),
        pits,
        ..port()
    };
    vec![
        with("sound", Vec::new()),
        with("deep & <wide>", vec![pit([0.0, 250.0], [5.0, 30.0], 2.0)]),
        with("scored", vec![pit([90.0, 92.0], [5.0, 30.0], 0.25)]),
        with("pitted", vec![pit([90.0, 100.0], [5.0, 30.0], 1.0)]),
    ]
}

#[test]
fn a_bench_is_sorted_worst_first() {
    let ports = bench_ports();
    let sorted = bench(&ports, &Thresholds::default()).unwrap();
    let names: Vec<&str> = sorted.iter().map(|(port, _)| port.name.as_str()).collect();
    assert_eq!(names, ["deep & <wide>", "pitted", "scored", "sound"]);
    let mut ports = ports;
    ports[2].clamp_width_mm = -1.0;
    let wrong = bench(&ports, &Thresholds::default()).unwrap_err();
    assert_eq!(wrong[0].0, "scored");
}

#[test]
fn drawings_show_clamp_channel_and_name() {
    let thresholds = Thresholds::default();
    let mut port = port();
    port.name = "rear <housing> & \"elbow\"".to_owned();
    port.clamp_at_mm = Some(16.0);
    port.pits = vec![
        pit([350.0, 20.0], [14.0, 30.0], 0.6),
        pit([120.0, 180.0], [8.0, 12.0], 0.05),
    ];
    let found = examine(&port, &thresholds).unwrap();
    let drawn = text(&port, &found, &thresholds);
    assert!(
        drawn.lines().all(|line| line.chars().count() <= 78),
        "{drawn}"
    );
    for wanted in ["bead", "█", "▒", "*", "#", "-", "5.0 to 15.0 mm"] {
        assert!(drawn.contains(wanted), "{wanted}\n{drawn}");
    }
    let drawing = svg(&port, &found, &thresholds);
    assert!(drawing.starts_with("<svg ") && drawing.ends_with("</svg>\n"));
    assert!(drawing.contains("rear &lt;housing&gt; &amp; &quot;elbow&quot;"));
    assert!(!drawing.contains("<housing>") && !drawing.contains("NaN"));
    for wanted in [
        "clamp here",
        "clamp as found",
        "bead",
        "<path",
        "90°",
        "30 mm",
    ] {
        assert!(drawing.contains(wanted), "{wanted}");
    }
    // Every element is closed: as many opened as ended.
    let opened = drawing.matches('<').count() - drawing.matches("</").count();
    let ended = drawing.matches("</").count() + drawing.matches("/>").count();
    assert_eq!(opened, ended);
}
