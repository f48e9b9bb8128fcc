//! Any address and any form, as the pages read them: an answer, never a server's error.
#![no_main]

use host::import::{Input, passages::passages};
use host::report::farm::Farm;
use host::report::pages::{Pages, Viewer, date_of, query_value};
use host::report::words::{Language, Words};
use host::store::Store;
use libfuzzer_sys::fuzz_target;
use std::io::Cursor;

const TABLE: &str = "time,animal_id,kind,body_weight_kg,lf_share_pct,rf_share_pct,lr_share_pct,rr_share_pct\n\
    2026-03-02T06:00:00Z,999000000000412,stance,600,27,27,23,23\n";

thread_local! {
    static FARM: (Store, Farm, Pages) = {
        let store = Store::in_memory().expect("memory");
        let file = Input::of("table", Box::new(Cursor::new(TABLE)), None);
        passages(&store, file, "exit").expect("taken");
        let farm = Farm::load(&store, None).expect("read").expect("a day");
        let pages = Pages::new(Words::new(Language::English)).expect("templates");
        (store, farm, pages)
    };
}

fuzz_target!(|text: &str| {
    let _ = date_of(text);
    for name in ["id", "date", "token", "leg", "zone"] {
        let _ = query_value(text, name);
    }
    FARM.with(|(store, farm, pages)| {
        let view = pages.view(Viewer::default());
        for url in [text.to_owned(), format!("/cow?{text}"), format!("/crush?{text}"), format!("/change?{text}"),
            format!("/passage?{text}"), format!("/cow/{text}")]
        {
            let page = view.answer(&url, Some(farm), store);
            assert!(page.status < 500, "{url}: {}", page.status);
            assert!(!page.body.contains("<script>"), "{url}");
        }
    });
});
