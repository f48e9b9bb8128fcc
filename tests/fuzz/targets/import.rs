//! Any file, as every importer reads it: what cannot be used is said, and what is stored can be scored and listed.
#![no_main]

use host::import::{self, Input, readings::Importer};
use host::report::farm::Farm;
use host::store::Store;
use libfuzzer_sys::fuzz_target;
use std::io::Cursor;

fuzz_target!(|bytes: &[u8]| {
    let Some((kind, file)) = bytes.split_first() else { return };
    let store = Store::in_memory().expect("memory");
    let input = || {
        let file = file.to_vec();
        let length = file.len() as u64;
        Input::of("fuzz", Box::new(Cursor::new(file)), Some(length))
    };
    let told = match kind % 8 {
        0 => Importer::new(&store, "lane").file(input()),
        1 => import::records::registers::tags(&store, input(), "lane"),
        2 => import::records::herd::herd(&store, input()),
        3 => import::records::registers::scores(&store, input()),
        4 => import::records::trims::import(&store, input()),
        5 => import::records::follow_ups::import(&store, input()),
        6 => import::capture::import(&store, input()),
        _ => import::passages::passages(&store, input(), "lane"),
    };
    if let Ok(told) = told {
        assert!(told.bad as usize >= told.problems.len().min(1), "a problem that is not counted");
        let _ = Farm::load(&store, None).expect("listed").map(|farm| farm.morning(None));
    }
});
