//! Codes of currencies.
//!
//! Source: ISO 4217:2015, lists one (current) and three (historic), as its maintenance agency publishes them at
//! <https://www.six-group.com/en/products-services/financial-information/data-standards.html>. Of list one all codes
//! of money; funds' units, metals and codes for testing or for no currency are left out, since nobody pays in them. Of
//! list three those that were withdrawn since 1999: old contracts name them. Written from memory and compared with the
//! table of iso-codes 4.15.0 (2023), which lacks XCG, ZWG and some withdrawn ones.

/// List one.
const CURRENT: &str = "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF \
    CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ GYD HKD HNL HTG HUF \
    IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL LYD MAD MDL MGA MKD MMK MNT \
    MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD SCR \
    SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD UYU UZS VED VES VND VUV \
    WST XAF XCD XCG XOF XPF YER ZAR ZMW ZWG";

/// List three, withdrawn since 1999.
const WITHDRAWN: &str = "ADP AFA ANG ATS AZM BEF BGL BGN BYB BYR CSD CUC CYP DEM ECS EEK ESP FIM FRF GHC GRD HRK IEP ITL \
    LTL LUF LVL MGF MRO MTL MZM NLG PTE ROL RUR SDD SIT SKK SLL SRG STD TJR TMM TPE TRL VEB VEF XEU YUM ZMK ZWD ZWL ZWN ZWR";

/// Whether a text is the code of a currency, as written in capitals.
///
/// ```
/// use waybill_domain::costs::is_currency;
/// assert!(is_currency("GBP") && is_currency("DEM"));
/// assert!(!is_currency("XYZ") && !is_currency("gbp") && !is_currency(""));
/// ```
pub fn is_currency(code: &str) -> bool {
    code.len() == 3
        && [CURRENT, WITHDRAWN]
            .iter()
            .flat_map(|list| list.split_ascii_whitespace())
            .any(|known| known == code)
}

/// What is wrong with a text that is no code of a currency, and what to do; None: nothing.
pub fn currency_fault(code: &str) -> Option<String> {
    let letters = code.len() == 3 && code.bytes().all(|b| b.is_ascii_uppercase());
    match (letters, is_currency(code)) {
        (_, true) => None,
        (true, false) => Some(format!(
            "{code} is no currency of ISO 4217. Write its code, for instance GBP, EUR or USD."
        )),
        (false, false) => Some("A currency is three capital letters, for instance GBP.".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: ISO 4217:2015. Every code stands once, in order.
    #[test]
    fn the_codes_are_those_of_the_standard() {
        for list in [CURRENT, WITHDRAWN] {
            let codes: Vec<&str> = list.split_ascii_whitespace().collect();
            assert!(codes.windows(2).all(|two| two[0] < two[1]), "{list}");
            assert!(codes.iter().all(|code| code.len() == 3));
        }
        for code in ["GBP", "EUR", "USD", "JPY", "NOK", "ZAR", "HRK", "FRF"] {
            assert!(is_currency(code), "{code}");
            assert_eq!(currency_fault(code), None);
        }
        for code in ["XYZ", "EURO", "Gbp", "", "XXX", "XTS", "ABC"] {
            assert!(!is_currency(code), "{code}");
        }
        let words = currency_fault("XYZ").expect("a fault");
        assert!(words.starts_with("XYZ is no currency of ISO 4217."));
    }
}
