//! All integration tests, in one crate.

mod advise;
mod command;
mod export;
mod gauge_simulator;
mod infer_model;
mod infer_networks;
mod infer_random;
mod infer_synthetic;
mod infer_worked;
mod job_file;
mod job_resolve;
mod job_store;
mod layers;
mod measure_commands;
mod measure_coolant;
mod measure_hold;
mod measure_job;
mod measure_plan;
mod measure_ports;
mod measure_units;
mod rules_bad;
mod rules_builtin;
mod rules_limits;
mod rules_mutations;
mod rules_read;
mod stories;
