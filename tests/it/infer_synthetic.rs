//! A synthetic model of realistic build, for tests and benches. Kind: own inputs.
//!
//! In: a number of places, a seed, how many abnormal findings. Out: a network (conditions →
//! faults → pushes → leaks of two kinds → wetness, gathers, gates → signs), findings drawn from it,
//! targets (every push in its leaking states) and one question per open check.

use seepwise::ids::VarId;
use seepwise::infer::{Finding, Link, Network, Question, Shape, Target};

/// A network with everything that can be asked of it.
pub struct Synthetic {
    pub net: Network,
    pub findings: Vec<Finding>,
    pub targets: Vec<Target>,
    pub questions: Vec<Question>,
}

struct Draw(u64);

impl Draw {
    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, n: usize) -> usize {
        self.unit();
        let drawn = (self.0 >> 11) % (n as u64);
        usize::try_from(drawn).unwrap_or(0)
    }
}

fn one_hot(states: usize, state: usize) -> Vec<f64> {
    (0..states)
        .map(|s| if s == state { 1.0 } else { 0.0 })
        .collect()
}

/// A link that hands the parent's level on.
fn same(parent: VarId) -> Link {
    let push = (0..4).map(|state| one_hot(4, state)).collect();
    Link { parent, push }
}

/// A two-state sign that shows the more surely the higher the level.
fn sign_on(net: &mut Network, draw: &mut Draw, name: String, parents: &[VarId]) -> VarId {
    let links = parents
        .iter()
        .map(|&parent| {
            let strong = 0.5 + 0.45 * draw.unit();
            let shows = [0.0, 0.3 * strong, 0.7 * strong, strong];
            let states = net.node(parent).states;
            let push = (0..states)
                .map(|state| {
                    let shown = if states == 2 {
                        strong * state as f64
                    } else {
                        shows[state]
                    };
                    vec![1.0 - shown, shown]
                })
                .collect();
            Link { parent, push }
        })
        .collect();
    net.add_noisy_max(name, vec![0.98, 0.02], links).unwrap()
}

struct Place {
    always: VarId,
    hot: VarId,
    seen: VarId,
}

/// Builds the model: about three faults, two leaks, a wetness and six checks per place.
pub fn synthetic(places: usize, abnormal: usize, seed: u64) -> Synthetic {
    let mut draw = Draw(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
    (0..9).for_each(|_| {
        draw.unit();
    });
    let mut net = Network::new();
    let conditions: Vec<VarId> = (0..7)
        .map(|c| {
            let p = 0.1 + 0.15 * draw.unit();
            net.add_noisy_max(format!("condition {c}"), vec![1.0 - p, p], vec![])
                .unwrap()
        })
        .collect();
    let (mut faults, mut targets, mut built, mut wets) = (vec![], vec![], vec![], vec![]);
    for place in 0..places {
        let mut pushes = Vec::new();
        for fault in 0..2 + draw.below(4) {
            let mut parents: Vec<VarId> = Vec::new();
            for _ in 0..=draw.below(3) {
                let condition = conditions[draw.below(conditions.len())];
                if !parents.contains(&condition) {
                    parents.push(condition);
                }
            }
            let links = parents
                .into_iter()
                .map(|parent| {
                    let strength = 0.02 + 0.1 * draw.unit();
                    Link {
                        parent,
                        push: vec![vec![1.0, 0.0], vec![1.0 - strength, strength]],
                    }
                })
                .collect();
            let base = 0.002 + 0.015 * draw.unit();
            let name = format!("fault {place}.{fault}");
            let fault = net
                .add_noisy_max(name, vec![1.0 - base, base], links)
                .unwrap();
            faults.push(fault);
            // absent, present without leaking, three levels always open, three only when hot
            let mut rows = one_hot(8, 0);
            rows.extend([0.0, 0.25, 0.2, 0.2, 0.1, 0.1, 0.1, 0.05]);
            let push = net
                .add_table(format!("push {fault:?}"), 8, vec![fault], rows)
                .unwrap();
            targets.push(Target {
                var: push,
                states: (0..8).map(|s| s > 1).collect(),
            });
            pushes.push(push);
        }
        let leak = |net: &mut Network, name: String, first: usize, draw: &mut Draw| {
            let links = pushes
                .iter()
                .map(|&parent| {
                    let level = |s: usize| {
                        if (first..first + 3).contains(&s) {
                            s - first + 1
                        } else {
                            0
                        }
                    };
                    Link {
                        parent,
                        push: (0..8).map(|s| one_hot(4, level(s))).collect(),
                    }
                })
                .collect();
            let base = 0.001 + 0.002 * draw.unit();
            net.add_noisy_max(name, vec![1.0 - base, base, 0.0, 0.0], links)
                .unwrap()
        };
        let always = leak(&mut net, format!("leak {place}"), 2, &mut draw);
        let hot = leak(&mut net, format!("hot leak {place}"), 5, &mut draw);
        let mut links = vec![same(always), same(hot)];
        if place % 3 > 0 {
            let pass = |s: usize| {
                let mut row = one_hot(4, 0);
                row[0] -= 0.6;
                row[s] += 0.6;
                row
            };
            links.push(Link {
                parent: wets[place - 1],
                push: (0..4).map(pass).collect(),
            });
        }
        let wet = net
            .add_noisy_max(format!("wet {place}"), one_hot(4, 0), links)
            .unwrap();
        wets.push(wet);
        let visible = net
            .add_noisy_max(format!("visible {place}"), vec![0.2, 0.8], vec![])
            .unwrap();
        let seen = net
            .add_gate(format!("seen {place}"), wet, visible, &[false, true])
            .unwrap();
        built.push(Place { always, hot, seen });
    }
    let mut singles = Vec::new();
    let mut signs_of_places = Vec::new();
    for (number, place) in built.iter().enumerate() {
        for (what, parents) in [
            ("look", vec![place.seen]),
            ("lamp", vec![place.seen]),
            ("feel", vec![wets[number]]),
            ("cold test", vec![place.always]),
            ("hot test", vec![place.always, place.hot]),
        ] {
            let sign = sign_on(&mut net, &mut draw, format!("{what} {number}"), &parents);
            singles.push(sign);
            if what == "look" {
                signs_of_places.push(sign);
            }
        }
    }
    for (number, fault) in faults.iter().enumerate().step_by(3) {
        singles.push(sign_on(
            &mut net,
            &mut draw,
            format!("mark {number}"),
            &[*fault],
        ));
    }
    let some: Vec<VarId> = faults.iter().copied().step_by(5).collect();
    singles.push(sign_on(&mut net, &mut draw, "many faults".into(), &some));
    singles.push(sign_on(&mut net, &mut draw, "strength".into(), &conditions));
    let mut wide = Vec::new();
    let mut gathers = 0;
    let mut gather = |net: &mut Network, draw: &mut Draw, leaks: Vec<VarId>, signs: usize| {
        gathers += 1;
        let links = leaks.into_iter().map(same).collect();
        let name = format!("gather {gathers}");
        let var = net.add_noisy_max(name, one_hot(4, 0), links).unwrap();
        (0..signs)
            .map(|s| sign_on(net, draw, format!("sign {gathers}.{s}"), &[var]))
            .collect::<Vec<VarId>>()
    };
    let every = |kind: usize| {
        built.iter().flat_map(move |p| match kind {
            0 => vec![p.always],
            1 => vec![p.hot],
            _ => vec![p.always, p.hot],
        })
    };
    for kind in [2, 0, 1] {
        wide.extend(gather(&mut net, &mut draw, every(kind).collect(), 2));
    }
    let outside: Vec<VarId> = every(2).take(places).collect();
    wide.extend(gather(&mut net, &mut draw, outside, 2));
    for zone in 0..(places / 4).max(1) {
        let leaks: Vec<VarId> = every(zone % 3)
            .skip(zone)
            .step_by(1 + places / 10)
            .collect();
        singles.extend(gather(&mut net, &mut draw, leaks, 2));
    }
    let mut questions: Vec<Question> = Vec::new();
    let mut findings = Vec::new();
    let mut abnormal_left = abnormal;
    let mut normal_left = 10;
    let mut taken = Vec::new();
    let note = |var: VarId, state: usize, findings: &mut Vec<Finding>, taken: &mut Vec<VarId>| {
        findings.push(Finding::hard(var, 2, state));
        taken.push(var);
    };
    // Half of the abnormal findings are wide ones, the rest signs anywhere.
    for &sign in wide.iter().step_by(2).take(abnormal.div_ceil(2).min(4)) {
        note(sign, 1, &mut findings, &mut taken);
        abnormal_left -= 1;
    }
    while abnormal_left + normal_left > 0 {
        let sign = singles[draw.below(singles.len())];
        if !taken.contains(&sign) {
            let state = usize::from(abnormal_left > 0);
            note(sign, state, &mut findings, &mut taken);
            if state == 1 {
                abnormal_left -= 1;
            } else {
                normal_left -= 1;
            }
        }
    }
    for &sign in singles
        .iter()
        .chain(&wide)
        .filter(|sign| !taken.contains(sign))
    {
        questions.push(Question {
            signs: vec![sign],
            shape: Shape::Grid,
        });
    }
    for walk in signs_of_places.chunks(8) {
        let signs: Vec<VarId> = walk
            .iter()
            .copied()
            .filter(|s| !taken.contains(s))
            .collect();
        if !signs.is_empty() {
            questions.push(Question {
                signs,
                shape: Shape::FirstOf,
            });
        }
    }
    Synthetic {
        net,
        findings,
        targets,
        questions,
    }
}
