package rules_test

import (
	"strings"
	"testing"

	"bellbuoy/schedule/rules"
)

// ground is the least that a catalogue needs around the rules under test.
const ground = `
[pricing]
kind = "common-practice"
text = "ours"
[running]
months = [1,1,1,1,1,1,1,1,1,1,1,1]
source = { kind = "common-practice", text = "ours" }
[[usage]]
boat_kind = "other"
mean_hours = 40
weight = 1
outing_hours = 2
source = { kind = "common-practice", text = "ours" }
`

func checked(t *testing.T, text string) string {
	t.Helper()
	// Through Extend, as the program does it: cautions, changes and drops take
	// effect there.
	c := (&rules.Catalogue{}).Extend(parse(t, text))
	var lines []string
	for _, f := range c.Check() {
		lines = append(lines, f.String())
	}
	return strings.Join(lines, "\n")
}

func TestGroundIsClean(t *testing.T) {
	if got := checked(t, plain+ground); got != "" {
		t.Errorf("findings in a clean catalogue:\n%s", got)
	}
}

// with returns the plain rule with one line replaced or added.
func with(pairs ...string) string {
	text := plain
	for i := 0; i < len(pairs); i += 2 {
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

func TestCheckFindsPlantedFaults(t *testing.T) {
	const labour = "labor = 30"
	second := func(pairs ...string) string { return with(append([]string{`"wash"`, `"rinse"`}, pairs...)...) }
	engine := []string{`"hull"`, `"engine"`}
	onEngine := func(pairs ...string) string { return with(append(engine, pairs...)...) }
	for _, c := range []struct{ name, text, want string }{
		{"price of an unknown part", with(labour, labour+"\nparts = [{ code = \"WASH\", name = \"Wash\" }]\n") + "[[part]]\ncode = \"WASHH\"\ncost = 3\n", `part "WASHH": no rule uses it; did you mean "WASH"?`},
		{"price by another unit", with(labour, labour+"\nparts = [{ code = \"WASH\", name = \"Wash\", unit = \"l\" }]\n") + "[[part]]\ncode = \"WASH\"\ncost = 3\n", `part "WASH": priced by the piece, but the rules count it in "l"`},
		{"no interval at all", with("every = { months = 12 }", ""), `shop.toml:1: error: rule "wash": has no interval, season, expiry, event or days in storage`},
		{"after what is no event", with(labour, labour+"\nafter = [\"lunch\"]"), `comes after "lunch", which is no event; did you mean "launch"?`},
		{"once and after an event", with("every = { months = 12 }", "once = true\nfirst = { months = 1 }\nafter = [\"launch\"]"), `is done once and after events`},
		{"season and event", with("every = { months = 12 }", "season = \"lay-up\"\nafter = [\"launch\"]"), `mixes an interval, a season, an expiry or days in storage`},
		{"family on an event", with("every = { months = 12 }", "after = [\"launch\"]") + family(`code = "wash"`, `every = { months = 1 }`), `rule "wash" goes by an event and has no interval`},
		{"interval and storage", with(labour, labour+"\nstored_days = 30"), `mixes an interval, a season, an expiry or days in storage`},
		{"storage with a price", with("every = { months = 12 }", "stored_days = 30"), `is done in storage, without a visit, and has a price of 89.50`},
		{"season and interval", with(labour, labour+"\nseason = \"lay-up\""), `mixes an interval, a season, an expiry or days in storage`},
		{"once without first", with("every = { months = 12 }", "once = true\nexpiry = { from = \"component\" }"), `is done once but has no first interval`},
		{"if missed without a season", with(labour, labour+"\nif_missed = \"lay-up\""), `if_missed, which is for season`},
		{"ended by without once", with(labour, labour+"\nended_by = [\"wash\"]"), `ended_by, which is for rules done once`},
		{"a safety job for the owner", with(labour, labour+"\nsafety = true\nby_customer = true"), `warning: rule "wash": is a matter of safety and given to the owner`},
		{"once and again", with(labour, labour+"\nonce = true\nfirst = { months = 1 }"), `is done once and again every so often`},
		{"first and never again", with("every = {", "first = {"), `has a first interval and nothing after it`},
		{"first later than every", with(labour, labour+"\nfirst = { months = 24 }"), `warning: rule "wash": waits longer for the first time`},
		{"hours without a meter", with("{ months = 12 }", "{ hours = 100 }"), `a component of kind "hull" has no hour meter`},
		{"unknown kind", with(`"hull"`, `"hul"`), `no component is of kind "hul"; did you mean "hull"?`},
		{"unknown value", onEngine(labour, labour+"\nwhere = { stroke = \"for\" }"), `where stroke is "for" can never apply; did you mean "four"?`},
		{"attribute of another kind", with(labour, labour+"\nwhere = { stroke = \"four\" }"), `a component of kind "hull" has no stroke`},
		{"misspelt attribute", onEngine(labour, labour+"\nwhere = { propulson = \"jet\" }"), `if "propulsion" is meant, correct it`},
		{"contradiction", onEngine(labour, labour+"\nwhere = { propulsion = \"electric\", stroke = [\"two\", \"four\"] }"), `no engine is both propulsion electric, stroke four or two`},
		{"no such family", onEngine(labour, labour+"\nwhere = { family = \"v8\" }"), `where family is "v8" can never apply: no such family`},
		{"no source", with(`sources = [{ kind = "common-practice", text = "our habit" }]`, ""), `has no source`},
		{"no consequence", with(`consequence = "It stays dirty."`, ""), `does not say what goes wrong`},
		{"caution without a text", with(labour, labour+"\ncautions = [\"blwer\"]"), `names the caution "blwer", which has no text`},
		{"fuel without caution", with("Hull washed", "Fuel tank washed"), `touches fuel and carries no caution about it`},
		{"lifting without caution", with("Hull washed", "Hull lifted and washed"), `touches lifting or blocking and carries no caution`},
		{"battery without caution", with("Hull washed", "Battery box washed"), `touches electricity and carries no caution`},
		{"legal with grace", with(labour, labour+"\nlegal = true"), `is set by law and has a grace of 45 days`},
		{"window of a day", with("early_days = 75\ngrace_days = 45", ""), `has a window of one day`},
		{"always open", with("early_days = 75", "early_days = 400"), `opens 400 days early although it comes every 12 months`},
		{"rides with nothing", with(labour, labour+"\nride_along = []"), `may ride with no kind of visit`},
		{"season elsewhere", with("every = { months = 12 }", "season = \"lay-up\"\nride_along = [\"extra\"]"), `belongs to the lay-up but may not ride with it`},
		{"billed to nobody", with(labour, labour+"\nby_customer = true"), `is done by the customer and has a price of 89.50`},
		{"takes no time", with(labour, ""), `takes the shop no time`},
		{"covers nothing known", with(labour, labour+"\ncovers = [\"rinze\"]") + second(), `covers "rinze", which is no service; did you mean "rinse"?`},
		{"covers itself", with(labour, labour+"\ncovers = [\"wash\"]"), `covers itself: wash -> wash`},
		{"covers in a ring", with(labour, labour+"\ncovers = [\"rinse\"]") + second(labour, labour+"\ncovers = [\"wash\"]"), `covers itself: rinse -> wash -> rinse`},
		{"overlap", with(`"hull"`, `"engine"`, labour, labour+"\nwhere = { fuel = [\"diesel\", \"gasoline\"] }") + second(`"hull"`, `"engine"`, labour, labour+"\nservice = \"wash\"\nwhere = { fuel = [\"diesel\", \"\"] }"),
			`shop.toml:13: error: rule "rinse": overlaps rule "wash" (shop.toml:1): both ask for "wash" on a component with fuel diesel`},
		{"shadowed", with() + second(labour, labour+"\nservice = \"wash\"\nwhere = { water = \"salt\" }"), `rule "rinse": is shadowed: whatever it applies to gets "wash" from rule "wash"`},
		{"shadows", with(labour, labour+"\nwhere = { water = \"salt\" }") + second(labour, labour+"\nservice = \"wash\""), `rule "rinse": shadows rule "wash"`},
		{"family of an unknown rule", plain + family(`code = "wosh"`, `skip = true`), `family "a": no rule "wosh"; did you mean "wash"?`},
		{"family changing nothing", plain + family(`code = "wash"`), `changes nothing about rule "wash"`},
		{"family skipping and setting", plain + family(`code = "wash"`, `skip = true`, `every = { months = 1 }`), `skips rule "wash" and gives it an interval`},
		{"family on a season", with("every = { months = 12 }", `season = "lay-up"`) + family(`code = "wash"`, `every = { months = 1 }`), `rule "wash" goes by the season and has no interval`},
		{"family without source", plain + "[[family]]\nname = \"a\"\ntitle = \"A\"\n[[family.rule]]\ncode = \"wash\"\nskip = true\n", `no source for what it says of rule "wash"`},
		{"change of an unknown rule", plain + "[[change]]\nrule = \"wosh\"\nprice = 1\n", `shop.toml:12: error: changes rule "wosh", which does not exist; did you mean "wash"?`},
		{"drop of an unknown rule", plain + "[[drop]]\nrule = \"wosh\"\n", `drops rule "wosh", which does not exist`},
		{"usage of an unknown kind", plain + "[[usage]]\nboat_kind = \"sial\"\nmean_hours = 1\nweight = 1\nouting_hours = 1\nsource = { kind = \"memory\", text = \"x\" }\n", `usage of boats of kind "sial": no such kind; did you mean "sail"?`},
		{"caution without source", plain + "[[caution]]\ncode = \"hot\"\ntext = \"It is hot.\"\n", `caution "hot" has no source`},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := checked(t, c.text+ground); !strings.Contains(got, c.want) {
				t.Errorf("got:\n%s\nwant: %s", got, c.want)
			}
		})
	}
}

func family(lines ...string) string {
	return "[[family]]\nname = \"a\"\ntitle = \"A\"\n[[family.rule]]\nsource = { kind = \"memory\", text = \"x\" }\n" + strings.Join(lines, "\n") + "\n"
}

func TestCheckFindsWhatIsMissing(t *testing.T) {
	got := checked(t, plain)
	for _, want := range []string{
		`no usage for boats of kind "other"`,
		"no month profile",
		"nothing says where labor and prices come from",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("got:\n%s\nwant: %s", got, want)
		}
	}
}

// What looks like an overlap and is none.
func TestCheckKeepsQuiet(t *testing.T) {
	share := "labor = 30\nservice = \"wash\"\n"
	second := func(where string) string {
		return with(`"wash"`, `"rinse"`, `"hull"`, `"engine"`, "labor = 30", share+where)
	}
	for _, c := range []struct{ name, text string }{
		{"values apart", with(`"hull"`, `"engine"`, "labor = 30", "labor = 30\nwhere = { stroke = \"two\" }") + second(`where = { stroke = "four" }`)},
		{"no such engine", with(`"hull"`, `"engine"`, "labor = 30", "labor = 30\nwhere = { propulsion = \"electric\" }") + second(`where = { stroke = "four" }`)},
		{"another kind of component", plain + second("")},
		{"an event beside an interval", with("labor = 30", "labor = 30\nafter = [\"launch\", \"strike\"]")},
		{"an event alone", with("every = { months = 12 }\n", "", "labor = 30", "labor = 30\nafter = [\"launch\"]", "early_days = 75\ngrace_days = 45\n", "")},
		{"break-in beside the rule it precedes", with() + with(`"wash"`, `"rinse"`, "every", "once = true\nfirst", "labor = 30", share)},
		{"an attribute of the shop's own", with("labor = 30", "labor = 30\nwhere = { awning = \"canvas\" }")},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := checked(t, c.text+ground); got != "" {
				t.Errorf("findings:\n%s", got)
			}
		})
	}
}

func TestFindingsComeInOrderOfLine(t *testing.T) {
	c := (&rules.Catalogue{}).Extend(parse(t, with("every = { months = 12 }", "")+with(`"wash"`, `"rinse"`, "labor = 30", "")+ground))
	found := c.Check()
	if len(found) != 2 || found[0].Rule != "wash" || found[1].Rule != "rinse" ||
		found[0].Severity != rules.SeverityError || found[1].Severity != rules.SeverityWarning {
		t.Errorf("findings: %v", found)
	}
}

func TestFamilyConditions(t *testing.T) {
	on := with(`"hull"`, `"engine"`, "labor = 30", "labor = 30\nwhere = { family = [\"a\", \"\"] }")
	if got := checked(t, on+family(`code = "wash"`, `skip = true`)+ground); got != "" {
		t.Errorf("a known family is reported:\n%s", got)
	}
	expiring := with("every = { months = 12 }", `expiry = { from = "component" }`)
	got := checked(t, expiring+family(`code = "wash"`, `every = { months = 1 }`)+ground)
	if want := `rule "wash" goes by a last day and has no interval`; !strings.Contains(got, want) {
		t.Errorf("got:\n%s\nwant: %s", got, want)
	}
}

// TestOldKeyIsRead: a shop's file of the release before says labour.
func TestOldKeyIsRead(t *testing.T) {
	c := parse(t, with("labor = 30", "labour = 45"))
	if got := c.Rules[0].Labour; got != 45 {
		t.Errorf("%d minutes", got)
	}
	var said []string
	for _, f := range c.Check() {
		if strings.Contains(f.String(), "labour is called labor now") {
			said = append(said, f.String())
		}
	}
	if len(said) != 1 {
		t.Errorf("said %q", said)
	}
	if _, err := rules.Parse("x.toml", []byte(with("labor = 30", "labor = 30\nlabour = 45"))); err == nil {
		t.Error("both names at once are taken")
	}
}
