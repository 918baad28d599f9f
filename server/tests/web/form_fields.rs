//! The form of a page, as a browser would send it.

use std::collections::BTreeMap;

fn plain(text: &str) -> String {
    let text = text.replace("&#34;", "\"").replace("&#39;", "'");
    let text = text.replace("&#60;", "<").replace("&#62;", ">");
    text.replace("&#38;", "&")
}

fn attribute<'t>(tag: &'t str, name: &str) -> Option<&'t str> {
    let at = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    tag[at..].split('"').next()
}

/// The fields of the form that saves a thing, as a browser would send them untouched.
pub fn fields(page: &str) -> BTreeMap<String, String> {
    let form = page.split("id=\"fields\"").nth(1);
    let form = form.unwrap_or_else(|| panic!("no form: {page}"));
    let form = form.split("</form>").next().unwrap();
    let mut fields = BTreeMap::new();
    for tag in form.split('<').skip(1) {
        let Some(name) = attribute(tag, "name") else {
            continue;
        };
        if tag.starts_with("input") {
            let value = attribute(tag, "value").unwrap_or("");
            fields.insert(name.to_owned(), plain(value));
        } else if tag.starts_with("select") {
            let select = form
                .split(&format!("<select id=\"{name}\""))
                .nth(1)
                .unwrap();
            let select = select.split("</select>").next().unwrap();
            let chosen = select
                .split("<option")
                .find(|option| option.contains(" selected"));
            let chosen = chosen.and_then(|option| attribute(option, "value"));
            fields.insert(name.to_owned(), plain(chosen.unwrap_or("")));
        }
    }
    fields
}
