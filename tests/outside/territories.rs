//! ISO 3166-1 and UN M.49 as built into the program, against Unicode CLDR 48.

use std::collections::BTreeSet;

use waybill_domain::rights::territory::{Groups, TerritorySet, all};

use crate::cases::read;

fn set(code: &str) -> TerritorySet {
    TerritorySet::parse([code], &Groups::new()).unwrap_or_else(|e| panic!("{e}"))
}

/// Source: data/territories.json (CLDR 48). Where its chain holds `QO`, CLDR's own addition to
/// M.49, the reading of M.49 itself is taken: Antarctica is in no region but the world.
#[test]
fn every_territory_is_in_the_regions_of_its_chain_and_in_no_other() {
    let data = read("territories.json");
    let territories = data["territories"].as_array().expect("a list");
    let regions = data["region_names"].as_object().expect("an object");
    assert_eq!(territories.len(), all().count());
    for territory in territories {
        let code = territory["alpha2"].as_str().expect("a code");
        let chain: BTreeSet<&str> = territory["m49"]
            .as_array()
            .expect("a list")
            .iter()
            .filter_map(|r| r.as_str())
            .collect();
        let outside_m49 = chain.contains("QO");
        for region in regions
            .keys()
            .filter(|region| !["QO", "202", "419"].contains(&&***region))
        {
            let expected = chain.contains(region.as_str()) && (!outside_m49 || region == "001");
            let holds = !set(region).and(set(code)).is_empty();
            assert_eq!(holds, expected, "{code} in {region}");
        }
    }
}

/// Source: data/territories.json, groupings 202 and 419 of UN M.49.
#[test]
fn intermediate_regions_are_the_union_of_their_parts() {
    let data = read("territories.json");
    for region in ["202", "419"] {
        let parts = data["groupings"][region].as_array().expect("a list");
        let union = TerritorySet::parse(
            parts.iter().filter_map(|part| part.as_str()),
            &Groups::new(),
        );
        assert_eq!(Ok(set(region)), union, "{region}");
    }
}
