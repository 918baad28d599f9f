//! Every address of the service with the pages at which its states are seen.
//!
//! A new line in `routes()` needs one here: a page with its states, or what else it is.

use Seen::{Empty, Error, Full, Nothing, Sent};

/// What is behind an address.
#[derive(Debug)]
pub enum Behind {
    /// A page, in these states.
    Page(&'static [Seen]),
    /// Something else that is read: a file, JSON.
    File(&'static str),
    /// Only sent to, never read.
    SentTo,
}

/// A page in one state.
#[derive(Debug)]
pub enum Seen {
    /// Of a service that holds no boat model.
    Nothing(&'static str),
    /// Of a boat model that states nothing (`new`), one of each with nothing in it (`bare`), or
    /// rules that no boat keeps (`stuck`).
    Empty(&'static str),
    /// Of a whole boat model.
    Full(&'static str),
    /// As an error with this status code.
    Error(u16, &'static str),
    /// A form sent from the page.
    Sent(Sending),
}

/// A form as it is filled in and sent.
#[derive(Debug)]
pub struct Sending {
    /// The page of the form.
    pub from: &'static str,
    /// Name of each field, and what is put in. Hidden fields too: a page that was left open.
    pub fields: &'static [(&'static str, &'static str)],
    /// Name and content of the file chosen, if any.
    pub file: Option<(&'static str, &'static str)>,
    /// The button.
    pub button: &'static str,
    /// Status code of the answer.
    pub status: u16,
    /// Words of the answer, so that it is the state meant.
    pub says: &'static str,
}

use Behind::{File, Page, SentTo};

const ADD_OPTION: &str = "/models/launch-92/options/add";
/// Asks for a component that draws next to nothing, so that the proposal is a page like any.
const PROPOSED: &str =
    "/models/launch-92/options/add?name=Anchor+light&draws=0.5+A+at+12+V&point=bow-light";
const WIRE: &str = "/models/launch-92/edit/wires/thing?id=1-F1";
const PUMP: &str = "/parts/loads/thing?id=pump-7";
const PARTS_IN: &str = "/parts/spreadsheet";
const SHEET_IN: &str = "/models/launch-92/spreadsheet";

#[rustfmt::skip]
pub const ADDRESSES: &[(&str, Behind)] = &[
    ("/", Page(&[Nothing("/"), Full("/")])),
    ("/models", Page(&[Nothing("/models"), Full("/models"), Error(404, "/nothing-here")])),
    ("/models/import", Page(&[Nothing("/models/import"), Full("/models/import"),
        Sent(Sending { from: "/models/import", fields: &[("id", "No Good"), ("who", "A. Rigger")],
            file: Some(("a.json", "{\"name\": 3}")), button: "Import the boat model", status: 422, says: "There is a problem" })])),
    ("/models/{id}/file.json", File("/models/launch-92/file.json")),
    ("/models/{id}/replace", Page(&[Empty("/models/new/replace"), Full("/models/launch-92/replace"),
        Sent(Sending { from: "/models/launch-92/replace", fields: &[], file: None, button: "Replace the boat model", status: 422, says: "There is a problem" }),
        Sent(Sending { from: "/models/launch-92/replace", fields: &[("expected_revision", "1")],
            file: Some(("a.json", "{\"format_version\": 1, \"name\": \"Launch\"}")), button: "Replace the boat model", status: 409, says: "Changed by somebody else" })])),
    ("/models/{id}/spreadsheet", Page(&[Empty("/models/new/spreadsheet"), Full(SHEET_IN),
        Sent(Sending { from: SHEET_IN, fields: &[], file: Some(("loads.csv", "id,Current (A)\nwindlass,a lot\n")),
            button: "Show what would change", status: 422, says: "a lot" }),
        Sent(Sending { from: SHEET_IN, fields: &[], file: Some(("options.csv", "id,Name\nradar,Radar 2\n")),
            button: "Show what would change", status: 200, says: "Radar 2" }),
        Sent(Sending { from: SHEET_IN, fields: &[("expected_revision", "1")], file: Some(("options.csv", "id,Name\nradar,Radar 2\n")),
            button: "Show what would change", status: 409, says: "Changed by somebody else" })])),
    ("/models/{id}/spreadsheet/accept", SentTo),
    ("/models/{id}/spreadsheet/marked", SentTo),
    ("/models/{id}/spreadsheet/{file}", File("/models/launch-92/spreadsheet/model.xlsx")),
    ("/models/{id}/delete", Page(&[Empty("/models/new/delete"), Full("/models/launch-92/delete"), Error(404, "/models/none/delete"),
        Sent(Sending { from: "/models/launch-92/delete", fields: &[("expected_revision", "1")], file: None, button: "Delete Launch 92", status: 409, says: "Changed by somebody else" })])),
    ("/models/{id}", Page(&[Empty("/models/new"), Empty("/models/bare"), Full("/models/launch-92"), Full("/models/launch-92?hull=11"),
        Error(404, "/models/none"), Error(422, "/models/launch-92?options=engine-220,engine-160")])),
    ("/models/{id}/gaps", Page(&[Empty("/models/new/gaps"), Full("/models/launch-92/gaps"), Error(404, "/models/none/gaps")])),
    ("/models/{id}/failing", Page(&[Empty("/models/new/failing"), Full("/models/launch-92/failing"), Full("/models/launch-92/failing?hull=11"),
        Error(422, "/models/launch-92/failing?zone=nowhere")])),
    ("/models/{id}/clears", Page(&[
        Full("/models/launch-92/clears?hull=11&rule=coupler_unreachable&at=coupler%20cockpit-coupler-starboard"),
        Error(404, "/models/launch-92/clears?rule=none&at=none")])),
    ("/models/{id}/sizes", Page(&[Empty("/models/new/sizes"), Full("/models/launch-92/sizes"), Full("/models/launch-92/sizes?hull=11"), Error(404, "/models/none/sizes")])),
    ("/models/{id}/circuits", Page(&[Empty("/models/new/circuits"), Empty("/models/bare/circuits"), Full("/models/launch-92/circuits"), Error(404, "/models/none/circuits")])),
    ("/models/{id}/circuits/{number}", Page(&[Empty("/models/bare/circuits/1"), Full("/models/launch-92/circuits/1"), Full("/models/launch-92/circuits/12"),
        Error(404, "/models/launch-92/circuits/none")])),
    ("/models/{id}/circuits/{number}/sizes", Page(&[Empty("/models/bare/circuits/1/sizes"), Full("/models/launch-92/circuits/40/sizes"), Error(404, "/models/launch-92/circuits/none/sizes")])),
    ("/models/{id}/zones", Page(&[Empty("/models/new/zones"), Empty("/models/bare/zones"), Full("/models/launch-92/zones"), Error(404, "/models/none/zones")])),
    ("/models/{id}/zones/{zone}", Page(&[Empty("/models/bare/zones/cabin"), Full("/models/launch-92/zones/helm"), Full("/models/launch-92/zones/helm?hull=11"),
        Error(404, "/models/launch-92/zones/none")])),
    ("/models/{id}/runs/{run}", Page(&[Empty("/models/bare/runs/aft--fore"), Full("/models/launch-92/runs/starboard-leg"), Error(404, "/models/launch-92/runs/none")])),
    ("/models/{id}/options", Page(&[Empty("/models/new/options"), Empty("/models/bare/options"), Full("/models/launch-92/options"), Empty("/models/stuck/options"), Error(404, "/models/none/options")])),
    ("/models/{id}/options/add", Page(&[Empty("/models/new/options/add"), Full(ADD_OPTION), Full(PROPOSED),
        Error(422, "/models/launch-92/options/add?name=&draws=much&point="),
        Sent(Sending { from: PROPOSED, fields: &[("expected_revision", "1")], file: None, button: "Add the option", status: 409, says: "Changed by somebody else" })])),
    ("/models/{id}/options/{option}", Page(&[Empty("/models/bare/options/extra"), Full("/models/launch-92/options/radar"), Full("/models/launch-92/options/engine-220"),
        Error(404, "/models/launch-92/options/none")])),
    ("/models/{id}/boats", Page(&[Empty("/models/new/boats"), Full("/models/launch-92/boats"), Full("/models/launch-92/boats?with=radar"), Empty("/models/stuck/boats"), Error(422, "/models/launch-92/boats?with=none")])),
    ("/models/{id}/most", Page(&[Empty("/models/new/most"), Full("/models/launch-92/most"), Error(404, "/models/none/most")])),
    ("/models/{id}/sheets", Page(&[Empty("/models/new/sheets"), Full("/models/launch-92/sheets"), Error(404, "/models/none/sheets")])),
    ("/models/{id}/sheets/{sheet}", Page(&[Empty("/models/new/sheets/cut-list"), Full("/models/launch-92/sheets/cut-list?hull=11"),
        Full("/models/tender-56/sheets/circuit-list"), Error(404, "/models/launch-92/sheets/none")])),
    ("/models/{id}/rules", Page(&[Empty("/models/new/rules"), Full("/models/launch-92/rules"), Error(404, "/models/none/rules")])),
    ("/models/{id}/rules/{code}", Page(&[Empty("/models/new/rules/drop_over_limit"), Full("/models/launch-92/rules/drop_over_limit"), Error(404, "/models/launch-92/rules/none")])),
    ("/models/{id}/search", Page(&[Empty("/models/new/search"), Full("/models/launch-92/search?q=helm"), Empty("/models/launch-92/search?q=nothingofthiskind")])),
    ("/models/{id}/edit", Page(&[Empty("/models/new/edit"), Full("/models/launch-92/edit"), Error(404, "/models/none/edit")])),
    ("/models/{id}/edit/plan", Page(&[Empty("/models/new/edit/plan"), Empty("/models/bare/edit/plan"), Full("/models/launch-92/edit/plan"),
        Full("/models/launch-92/edit/plan?doing=add"), Full("/models/launch-92/edit/plan?doing=run"), Error(404, "/models/none/edit/plan"),
        Sent(Sending { from: "/models/launch-92/edit/plan?doing=add", fields: &[("x_mm", "far"), ("y_mm", "0")], file: None, button: "Save as a revision", status: 422, says: "There is a problem" })])),
    ("/models/{id}/edit/{list}", Page(&[Empty("/models/new/edit/wires"), Full("/models/launch-92/edit/wires"), Empty("/models/launch-92/edit/wires?find=nothingofthiskind"),
        Error(404, "/models/launch-92/edit/none")])),
    ("/models/{id}/edit/{list}/thing", Page(&[Empty("/models/new/edit/wires/thing"), Full(WIRE), Full("/models/launch-92/edit/model/thing"), Error(404, "/models/launch-92/edit/wires/thing?id=none"),
        Sent(Sending { from: WIRE, fields: &[("size", "enormous")], file: None, button: "Save as a revision", status: 422, says: "There is a problem" }),
        Sent(Sending { from: WIRE, fields: &[("size", "2/0 AWG")], file: None, button: "See what it does to every boat", status: 200, says: "this is what saving the form below would do" }),
        Sent(Sending { from: WIRE, fields: &[("expected_revision", "1"), ("color", "yellow")], file: None, button: "Save as a revision", status: 409, says: "Somebody else changed this meanwhile" })])),
    ("/models/{id}/edit/{list}/remove", Page(&[Empty("/models/bare/edit/options/remove?id=extra"), Full("/models/launch-92/edit/options/remove?id=radar"),
        Error(404, "/models/launch-92/edit/options/remove?id=none")])),
    ("/models/{id}/revisions", Page(&[Empty("/models/new/revisions"), Full("/models/launch-92/revisions"), Error(404, "/models/none/revisions")])),
    ("/models/{id}/revisions/{number}", Page(&[Empty("/models/new/revisions/1"), Full("/models/launch-92/revisions/2"), Full("/models/launch-92/revisions/2?effect=yes"), Error(404, "/models/launch-92/revisions/99"),
        Sent(Sending { from: "/models/launch-92/revisions/2", fields: &[], file: None, button: "Take back revision 2", status: 422, says: "cannot be taken back alone" }),
        Sent(Sending { from: "/models/launch-92/revisions/2", fields: &[("expected_revision", "1")], file: None, button: "Go back to revision 2", status: 409, says: "Changed by somebody else" })])),
    ("/models/{id}/revisions/{number}/file.json", File("/models/launch-92/revisions/1/file.json")),
    ("/models/{id}/revisions/{number}/bring-back", SentTo),
    ("/models/{id}/revisions/{number}/take-back", SentTo),
    ("/models/{id}/parts", Page(&[Empty("/models/new/parts"), Full("/models/launch-92/parts"), Error(404, "/models/none/parts")])),
    ("/parts", Page(&[Nothing("/parts"), Full("/parts"), Empty("/parts?find=nothingofthiskind")])),
    ("/parts/revisions", Page(&[Nothing("/parts/revisions"), Full("/parts/revisions")])),
    ("/parts/revisions/{number}", Page(&[Full("/parts/revisions/2"), Error(404, "/parts/revisions/99")])),
    ("/parts/revisions/{number}/bring-back", SentTo),
    ("/parts/spreadsheet", Page(&[Full(PARTS_IN),
        Sent(Sending { from: PARTS_IN, fields: &[], file: Some(("loads.csv", "id,Current (A)\npump-7,a lot\n")),
            button: "Show what would change", status: 422, says: "a lot" }),
        Sent(Sending { from: PARTS_IN, fields: &[], file: Some(("loads.csv", "id,Current (A)\npump-7,6.4\n")),
            button: "Show what would change", status: 200, says: "6.4" })])),
    ("/parts/spreadsheet/accept", SentTo),
    ("/parts/spreadsheet/{file}", File("/parts/spreadsheet/parts.xlsx")),
    ("/parts/{list}", Page(&[Nothing("/parts/loads"), Full("/parts/loads"), Full("/parts/conductors"), Error(404, "/parts/none")])),
    ("/parts/{list}/thing", Page(&[Full("/parts/loads/thing"), Full(PUMP), Error(404, "/parts/loads/thing?id=none"),
        Sent(Sending { from: PUMP, fields: &[("current_a", "a lot")], file: None, button: "Save as a revision", status: 422, says: "There is a problem" }),
        Sent(Sending { from: PUMP, fields: &[("expected_revision", "1"), ("current_a", "7")], file: None, button: "Save as a revision", status: 409, says: "Somebody else changed this meanwhile" })])),
    ("/parts/{list}/remove", Page(&[Full("/parts/loads/remove?id=pump-7"), Error(404, "/parts/loads/remove?id=none")])),
    ("/search", Page(&[Nothing("/search?q=launch"), Empty("/search"), Full("/search?q=launch")])),
    ("/settings", Page(&[Full("/settings")])),
    ("/one-circuit", Page(&[Empty("/one-circuit"),
        Full("/one-circuit?nominal_v=12&current_a=10&round_trip_m=8&drop_limit_percent=3&drop_basis=trade-constant&insulation_degc=105"),
        Error(422, "/one-circuit?nominal_v=twelve&current_a=&round_trip_m=8")])),
    ("/harness-contents", Page(&[Full("/harness-contents"),
        Error(422, "/harness-contents?modules=&orders=&base_cost=&part_number_cost_per_year="),
        Sent(Sending { from: "/harness-contents", fields: &[("base_cost", "little")], file: None, button: "Calculate", status: 422, says: "There is a problem" })])),
    ("/rules", Page(&[Full("/rules")])),
    ("/rules/{code}", Page(&[Full("/rules/drop_over_limit"), Error(404, "/rules/none")])),
    ("/verification", Page(&[Full("/verification"), Error(404, "/verification?kind=none")])),
    ("/api/models", File("/api/models")),
    ("/api/models/{id}", File("/api/models/launch-92")),
    ("/api/models/{id}/revisions", File("/api/models/launch-92/revisions")),
    ("/api/models/{id}/revisions/{number}", File("/api/models/launch-92/revisions/1")),
    ("/api/models/{id}/sheets/{sheet}", File("/api/models/launch-92/sheets/cut-list.json")),
    ("/api/calculations/conductor", SentTo),
    ("/api/calculations/drop", SentTo),
    ("/api/calculations/ampacity", SentTo),
    ("/api/calculations/network", SentTo),
    ("/api/calculations/bundle", SentTo),
    ("/api/calculations/boats", SentTo),
    ("/api/calculations/contents", SentTo),
    ("/api/check", SentTo),
    ("/api/parts", File("/api/parts")),
    ("/api/parts/shipped", File("/api/parts/shipped")),
    ("/api/parts-schema.json", File("/api/parts-schema.json")),
    ("/api/openapi.json", File("/api/openapi.json")),
    ("/api/model-schema.json", File("/api/model-schema.json")),
    ("/health", File("/health")),
    ("/static/{name}", File("/static/screen.css")),
];
