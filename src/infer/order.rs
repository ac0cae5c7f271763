//! Elimination orders.
//!
//! In: how many states each variable has and which variables stand together in a factor. Out: a
//! good order to sum them out in, by min-fill and its weighted kin with seeded tie-breaks
//! (Kjærulff 1990), and the cliques that it makes.
//!
//! Example: on a chain a–b–c every order it returns makes two cliques of two variables.

/// An elimination order and what it costs.
#[derive(Debug, Clone)]
pub(super) struct Order {
    /// Variables, first summed out first.
    pub(super) sequence: Vec<usize>,
    /// Per step: the variable's neighbours at that time, ascending.
    pub(super) neighbours: Vec<Vec<usize>>,
    /// Table entries of all cliques, as if none lay inside another.
    pub(super) entries: u128,
}

/// What the next variable is chosen by.
#[derive(Debug, Clone, Copy)]
enum Rule {
    /// Fewest added edges, then smallest clique.
    Fill,
    /// Smallest clique, then fewest added edges.
    Size,
    /// Smallest sum of log sizes of added edges.
    WeightedFill,
}

/// A rectangle of bits: the neighbours of each variable.
#[derive(Clone)]
struct Graph {
    words: usize,
    bits: Vec<u64>,
}

impl Graph {
    fn new(count: usize) -> Self {
        let words = count.div_ceil(64).max(1);
        Self {
            words,
            bits: vec![0; words * count],
        }
    }

    fn row(&self, v: usize) -> &[u64] {
        &self.bits[v * self.words..(v + 1) * self.words]
    }

    fn has(&self, a: usize, b: usize) -> bool {
        self.bits[a * self.words + b / 64] >> (b % 64) & 1 == 1
    }

    fn join(&mut self, a: usize, b: usize) {
        self.bits[a * self.words + b / 64] |= 1 << (b % 64);
        self.bits[b * self.words + a / 64] |= 1 << (a % 64);
    }

    fn cut(&mut self, a: usize, b: usize) {
        self.bits[a * self.words + b / 64] &= !(1 << (b % 64));
    }

    fn neighbours(&self, v: usize) -> Vec<usize> {
        let mut found = Vec::new();
        for (index, &word) in self.row(v).iter().enumerate() {
            let mut rest = word;
            while rest != 0 {
                found.push(index * 64 + rest.trailing_zeros() as usize);
                rest &= rest - 1;
            }
        }
        found
    }
}

/// The best order of several tries. `states` per variable; `scopes` are the factors' variables.
/// About n² steps a try for n variables of bounded degree.
/// `after` may name, per variable, another one that must be summed out before it.
pub(super) fn best_order(
    states: &[usize],
    scopes: &[&[usize]],
    after: &[Option<usize>],
    seed: u64,
    most_tries: usize,
) -> Order {
    let mut graph = Graph::new(states.len());
    for scope in scopes {
        for (i, &a) in scope.iter().enumerate() {
            for &b in &scope[i + 1..] {
                graph.join(a, b);
            }
        }
    }
    let logs: Vec<f64> = states.iter().map(|&n| (n as f64).log2()).collect();
    let rules = [Rule::Fill, Rule::WeightedFill, Rule::Size];
    let mut best: Option<Order> = None;
    let constrained = after.iter().any(Option::is_some);
    for attempt in 0..most_tries {
        if best
            .as_ref()
            .is_some_and(|found| attempt >= tries_for(found.entries, constrained))
        {
            break;
        }
        let rule = rules[attempt % rules.len()];
        let limit = best.as_ref().map_or(u128::MAX, |found| found.entries);
        let mixed = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ (attempt as u64 + 1);
        let free = vec![None; states.len()];
        let after = if (attempt / rules.len()).is_multiple_of(2) {
            after
        } else {
            &free[..]
        };
        if let Some(order) = eliminate(graph.clone(), states, &logs, rule, after, mixed, limit) {
            best = Some(order);
        }
    }
    best.unwrap_or(Order {
        sequence: Vec::new(),
        neighbours: Vec::new(),
        entries: u128::MAX,
    })
}

/// Most tries that pay.
pub(super) const MOST_TRIES: usize = 24;

/// Large trees are worth more tries: each saves more later. The second three tries go without the
/// wish of `after`.
fn tries_for(entries: u128, constrained: bool) -> usize {
    match entries {
        0..50_000 if !constrained => 3,
        0..100_000 => 6,
        100_000..1_000_000 => 12,
        _ => MOST_TRIES,
    }
}

/// A cheap stream of pseudo-random numbers (Marsaglia's xorshift).
fn scramble(state: &mut u64) -> u64 {
    *state |= 1;
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    *state
}

fn score(graph: &Graph, v: usize, logs: &[f64], rule: Rule) -> (f64, f64) {
    let around = graph.neighbours(v);
    let size: f64 = logs[v] + around.iter().map(|&u| logs[u]).sum::<f64>();
    let mut fill = 0.0;
    if let Rule::WeightedFill = rule {
        for (i, &a) in around.iter().enumerate() {
            for &b in &around[i + 1..] {
                if !graph.has(a, b) {
                    fill += logs[a] * logs[b];
                }
            }
        }
    } else {
        let row = graph.row(v);
        let missing: usize = around
            .iter()
            .map(|&u| {
                let common: u32 = (graph.row(u).iter().zip(row))
                    .map(|(a, b)| (a & b).count_ones())
                    .sum();
                around.len() - 1 - common as usize
            })
            .sum();
        fill = missing as f64 / 2.0;
    }
    match rule {
        Rule::Fill | Rule::WeightedFill => (fill, size),
        Rule::Size => (size, fill),
    }
}

/// One try; `None` once it has become dearer than `limit`.
fn eliminate(
    mut graph: Graph,
    states: &[usize],
    logs: &[f64],
    rule: Rule,
    after: &[Option<usize>],
    mut seed: u64,
    limit: u128,
) -> Option<Order> {
    let count = states.len();
    for _ in 0..4 {
        scramble(&mut seed);
    }
    let ties: Vec<u64> = (0..count).map(|_| scramble(&mut seed)).collect();
    let mut alive = vec![true; count];
    let mut scores: Vec<(f64, f64)> = (0..count).map(|v| score(&graph, v, logs, rule)).collect();
    let mut order = Order {
        sequence: Vec::with_capacity(count),
        neighbours: Vec::with_capacity(count),
        entries: 0,
    };
    for _ in 0..count {
        let ready = |&v: &usize| alive[v] && after[v].is_none_or(|other| !alive[other]);
        let next = (0..count).filter(ready).min_by(|&a, &b| {
            let by_score = scores[a].0.total_cmp(&scores[b].0);
            let by_second = || scores[a].1.total_cmp(&scores[b].1);
            by_score.then_with(by_second).then(ties[a].cmp(&ties[b]))
        })?;
        let around = graph.neighbours(next);
        let entries = around.iter().fold(states[next] as u128, |all, &u| {
            all.saturating_mul(states[u] as u128)
        });
        order.entries = order.entries.saturating_add(entries);
        if order.entries >= limit {
            return None;
        }
        let mut touched = vec![0_u64; graph.words];
        for (i, &a) in around.iter().enumerate() {
            graph.cut(a, next);
            touched[a / 64] |= 1 << (a % 64);
            for &b in &around[i + 1..] {
                if !graph.has(a, b) {
                    for (mark, (x, y)) in touched
                        .iter_mut()
                        .zip(graph.row(a).iter().zip(graph.row(b)))
                    {
                        *mark |= x & y;
                    }
                    graph.join(a, b);
                }
            }
        }
        alive[next] = false;
        for v in (0..count).filter(|&v| touched[v / 64] >> (v % 64) & 1 == 1 && v != next) {
            scores[v] = score(&graph, v, logs, rule);
        }
        order.sequence.push(next);
        order.neighbours.push(around);
    }
    Some(order)
}
