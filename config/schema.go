package config

import (
	"maps"
	"slices"
)

// key is one key of the config: for the reader, for its error messages and for README.md.
type key struct {
	name    string
	need    bool
	want    string // what belongs here
	example string // one right value
	def     string // what its absence means; "" with need
}

// wanted says what belongs here, with an example.
func (k key) wanted() string { return "want " + k.want + k.eg() }

func (k key) eg() string { return " (for example " + k.example + ")" }

// schema is every key by the group it stands in; "[]" marks a list of groups.
var schema = map[string][]key{
	"": {
		{"household", true, "a group with name and timezone", "{name: Linden Row kitchen, timezone: Europe/Vienna}", ""},
		{"cylinders", true, "a list of cylinders", "[{name: main, gas: co2, tare: 14.30 kg, net_fill: 10 kg}]", ""},
		{"refill", false, "a group about booking a refill", "{lead_days: 3}", "the defaults below"},
		{"serving", false, "how much one serving is", "{litres: 0.84, co2: 6 g}", "unknown; learned or asked"},
		{"chat", false, "where the household talks", `{discord: {channel: "112233445566778899", token_env: TAREBELL_TOKEN}}`, "the terminal"},
		{"schedule", false, "when something is posted unasked", `{status: "0 18 * * SUN"}`, "the defaults below"},
		{"listen", false, "where scales that sleep between two weighings send them: POST /weighings", "{address: 127.0.0.1:8090, token_env: PUSH_TOKEN}", "scales are only asked"},
	},
	"listen": {
		{"address", false, "IP address and port; one of your own network lets the boards in it reach you", "192.168.1.20:8090", "127.0.0.1:8090, this machine alone"},
		{"token_env", false, "the environment variable that holds the token that the boards send", "PUSH_TOKEN", "one of the two is needed"},
		{"token_file", false, "the file that holds the token that the boards send", "/run/secrets/push", "one of the two is needed"},
	},
	"household": {
		{"name", true, "what the household calls itself", "Linden Row kitchen", ""},
		{"timezone", true, "an IANA time zone", "Europe/Vienna", ""},
		{"units", false, "metric or us", "metric", "metric"},
		{"quiet_hours", false, "from-to in the household's zone; only dangers are posted then, and gas that goes outside them is not judged as by night", "22:00-08:00", "none"},
		{"litres_per_day", false, "your own guess of what you drink, as a start", "1.5 L", "unknown"},
		{"members", false, "who lives here", "[Ida, {name: Bo, id: \"112233445566778899\"}]", "whoever writes in the channel"},
	},
	"household.members[]": {
		{"name", true, "how to call this person", "Ida", ""},
		{"id", false, "the person's number in Discord", `"112233445566778899"`, "unknown"},
		{"carries", false, "true if this person can help carry a cylinder", "true", "true"},
	},
	"cylinders[]": {
		{"name", true, "a short name, used once", "main", ""},
		{"gas", false, "co2", "co2", "co2"},
		{"tare", true, "the stamped weight of the empty cylinder, valve included", "14.30 kg", ""},
		{"fittings", false, "what rests on the scale besides: regulator, hose, straps", "1.10 kg", "0 kg"},
		{"net_fill", true, "the gas of a full cylinder", "10 kg", ""},
		{"water_capacity", false, "the stamped water capacity", "14.9 L", "net_fill / 0.68"},
		{"min_pressure", false, "the absolute pressure below which carbonating is pointless", "5 bar", "5 bar"},
		{"stock", false, "what was paid for the gas that is in it at the first weighing", "{price: 31 EUR, payer: Ida}", "nobody is charged for it"},
		{"spare", false, "true for a cylinder that waits its turn", "true", "false"},
		{"retest", false, "the periodic inspection", "{last: 2024-05, every: 5y}", "not watched"},
		{"room", false, "the room it stands in", "{volume: 38 m3, air_changes: 0.5}", "unknown; alerts give no ppm"},
		{"scale", false, "a scale that answers over HTTP", "{url: http://scale.example/weight, unit: kg}", "weights are typed"},
		{"co2_monitor", false, "a CO2 monitor that answers over HTTP", "{url: http://air.example/co2, value: /ppm}", "none"},
	},
	"cylinders[].stock": {
		{"price", true, "the price of that gas, all of it", "31 EUR", ""},
		{"payer", true, "the member who paid it", "Ida", ""},
	},
	"cylinders[].retest": {
		{"last", true, "the month stamped into the cylinder", "2024-05", ""},
		{"every", false, "how often your rules want it", "5y", "5y"},
	},
	"cylinders[].room": {
		{"volume", true, "length x width x height", "38 m3", ""},
		{"air_changes", false, "how often per hour the air changes with doors and windows shut", "0.5", "0.3"},
		{"temperature", false, "usual temperature, when the scale sends none", "20 C", "20 C"},
	},
	"cylinders[].scale": {
		{"url", false, "where the scale answers", "http://scale.example/weight", "it sends by itself, which needs listen"},
		{"every", false, "how often to ask, or how often it sends", "10m", "10m"},
		{"weight", false, "a JSON Pointer (RFC 6901) to the gross weight", "/weight", "the whole answer is the number"},
		{"record", false, "the name of the SenML record with the weight, if there are several", "gross", "the only one in kg"},
		{"unit", true, "the unit of that number; a SenML answer brings its own", "kg", ""},
		{"temperature", false, "a JSON Pointer to the temperature in degrees Celsius", "/temperature", "not read"},
		{"temperatures", false, "what its load cells are made for; beyond it a check is asked for", "-10 to 40 C", "-10 to 40 C"},
		{"time", false, "a JSON Pointer to when it was weighed, RFC 3339 or seconds since 1970", "/time", "when the answer came"},
		{"raw", false, "when the scale sends counts instead of a weight", "{zero: 84213, per_unit: 21.37}", "it sends a weight"},
		{"header", false, "the HTTP header that carries the token", "X-Api-Key", "Authorization, as a bearer token"},
		{"token_env", false, "the environment variable that holds the scale's token", "SCALE_TOKEN", "no token"},
		{"token_file", false, "the file that holds the scale's token", "/run/secrets/scale", "no token"},
		{"timeout", false, "how long to wait for an answer", "10s", "10s, or every if that is shorter"},
		{"silent_after", false, "how long it may say nothing before you are told", "6h", "6h, or 6 polls if that is longer"},
	},
	"cylinders[].scale.raw": {
		{"zero", true, "the counts of the empty platform", "84213", ""},
		{"per_unit", true, "counts for one unit more; negative if counts fall", "21.37", ""},
	},
	"cylinders[].co2_monitor": {
		{"url", true, "where the monitor answers", "http://air.example/co2", ""},
		{"every", false, "how often to ask", "1m", "1m"},
		{"value", false, "a JSON Pointer (RFC 6901) to the ppm", "/ppm", "the whole answer is the number"},
		{"alarm", false, "from how many ppm it is passed on at once", "5000 ppm", "5000 ppm"},
		{"header", false, "the HTTP header that carries the token", "X-Api-Key", "Authorization, as a bearer token"},
		{"token_env", false, "the environment variable that holds the monitor's token", "MONITOR_TOKEN", "no token"},
		{"token_file", false, "the file that holds the monitor's token", "/run/secrets/monitor", "no token"},
		{"timeout", false, "how long to wait for an answer", "10s", "10s, or every if that is shorter"},
	},
	"refill": {
		{"lead_days", false, "days from booking to a full cylinder", "3", "3"},
		{"open", false, "the supplier's weekdays", "[mon, tue, wed, thu, fri]", "every day"},
		{"holidays", false, "whose public holidays the supplier keeps: a country, or country-region", "at", "none"},
		{"risk", false, "how often you accept to run dry before the refill", "5%", "5%"},
		{"price", false, "what one fill costs", "42 EUR", "unknown"},
		{"alternative", false, "what a litre of sparkling drink costs you otherwise", "0.38 EUR", "unknown"},
		{"outlay", false, "what cylinder, regulator and the rest cost once", "310 EUR", "unknown"},
		{"swap", false, "true if the supplier swaps the cylinder instead of filling yours", "true", "false"},
		{"supplier", false, "whom to call, shown when it is time", "Gas yard, +43 1 000 00 00", "not shown"},
	},
	"serving": {
		{"litres", true, "the drink in one serving", "0.84", ""},
		{"co2", true, "the gas one serving takes from the cylinder", "6 g", ""},
	},
	"chat": {
		{"discord", false, "a Discord channel", `{channel: "112233445566778899", token_env: TAREBELL_TOKEN}`, "the terminal"},
	},
	"chat.discord": {
		{"channel", true, "the channel's number, in quotes", `"112233445566778899"`, ""},
		{"guild", false, "the server's number, in quotes", `"112233445566778899"`, "found through the channel"},
		{"token_env", false, "the environment variable that holds the bot's token", "TAREBELL_TOKEN", "one of the two is needed"},
		{"token_file", false, "the file that holds the bot's token", "/run/secrets/tarebell", "one of the two is needed"},
		{"roles", false, "the roles that may change something", `["112233445566778899"]`, "everybody in the channel"},
		{"free_text", false, "true to read weights typed without a command; needs the message content intent", "true", "false"},
	},
	"schedule": {
		{"status", false, "cron (minute hour day month weekday) of the status, in the household's zone", `"0 18 * * SUN"`, `"0 18 * * SUN"`},
	},
}

// groups are the names of all groups, in order.
func groups() []string { return slices.Sorted(maps.Keys(schema)) }
