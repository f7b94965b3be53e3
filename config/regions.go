package config

import (
	"slices"
	"strings"

	"tarebell/forecast/unit/mistake"
)

// regions are the countries (ISO 3166-1) whose public holidays can be named in refill.holidays, with their
// parts (ISO 3166-2) where the calendar library in use, rickar/cal, knows the parts' own.
var regions = map[string]string{
	"ar": "", "at": "", "be": "", "bg": "", "br": "", "ca": "", "cz": "", "dk": "", "es": "", "fr": "", "gb": "",
	"gr": "", "hr": "", "ie": "", "it": "", "jp": "", "lt": "", "lv": "", "mw": "", "nc": "", "nl": "", "no": "",
	"nz": "", "pl": "", "ro": "", "ru": "", "se": "", "si": "", "sk": "", "ua": "", "us": "", "za": "",
	"au": "act nsw nt qld sa tas vic wa",
	"ch": "ag ai ar be bl bs fr ge gl gr ju lu ne nw ow sg sh so sz tg ti ur vd vs zg zh",
	"de": "bb be bw by hb he hh mv ni nw rp sh sl sn st th",
}

// onlyInParts has no holidays of its own that hold everywhere.
const onlyInParts = "au"

// HolidayRegions lists what refill.holidays may say, sorted: at, de, de-by ...
func HolidayRegions() []string {
	var out []string
	for c, parts := range regions {
		if c != onlyInParts {
			out = append(out, c)
		}
		for _, p := range strings.Fields(parts) {
			out = append(out, c+"-"+p)
		}
	}
	slices.Sort(out)
	return out
}

func parseRegion(s string) (string, error) {
	r := strings.ToLower(strings.ReplaceAll(strings.TrimSpace(s), "_", "-"))
	if slices.Contains(HolidayRegions(), r) {
		return r, nil
	}
	country, _, _ := strings.Cut(r, "-")
	parts, known := regions[country]
	switch {
	case r == "uk":
		return "", advice("no such country; for the United Kingdom write gb")
	case known && parts == "":
		return "", advice("no such part; want " + country)
	case known:
		return "", advice("want " + country + "- and one of " + parts)
	}
	countries := make([]string, 0, len(regions))
	for c := range regions {
		countries = append(countries, c)
	}
	slices.Sort(countries)
	return "", advice("no holidays known for it; use " + mistake.Join(countries, "or"))
}
