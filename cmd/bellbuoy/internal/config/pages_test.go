package config

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/texts"
)

// two writes the two files of a shop and reads them.
func two(t *testing.T, main, pages string) (*Config, error) {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{"bellbuoy.toml": main, "settings.toml": pages} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return Load(filepath.Join(dir, "bellbuoy.toml"))
}

// TestTwoFiles: what a person writes wins, value by value, also inside of one block
// and one table; the rest is as the pages say, and else as is usual.
func TestTwoFiles(t *testing.T) {
	c, err := two(t, `[shop]
name = "A shop"
[reminders]
gap_days = 9
invitation_days = 40 # an old name
[drop_off.words]
own-dock = "Ours"
[[place]]
name = "Our lake"
launch = "05-15"
forecast = "forecast.json"
[[weeks.technician]]
name = "Inge"
hours = [8, 8, 8, 8, 8, 0, 0]
`, `[reminders]
gap_days = 20
first_reminder_days = 50
second_reminder_days = 25
[weeks]
holidays = ["2027-07-05"]
[drop_off.words]
own-dock = "Theirs"
own-lift = "Call us."
[[place]]
name = "Our lake"
launch = "05-01"
winterize_by = "10-10"
[[place]]
name = "Other lake"
[[weeks.technician]]
name = "Inge"
hours = [4, 4, 4, 4, 4, 0, 0]
[[weeks.technician]]
name = "Ruth"
hours = [4, 4, 4, 4, 4.5, 0, 0]
`)
	if err != nil {
		t.Fatal(err)
	}
	if r := c.Reminders; r.GapDays != 9 || r.InvitationDays != 40 || r.NudgeDays != 25 || r.LastCallDays != 7 {
		t.Errorf("reminders %+v", r)
	}
	if w := c.DropOff.Words; w["own-dock"] != "Ours" || w["own-lift"] != "Call us." || len(w) != 2 {
		t.Errorf("words %v", w)
	}
	if len(c.Places) != 2 || c.Places[0].Launch.String() != "05-15" || c.Places[0].LayUp.String() != "10-10" || c.Places[0].Forecast != "forecast.json" || c.Places[1].Name != "Other lake" {
		t.Errorf("places %+v", c.Places)
	}
	if w := c.Weeks; len(w.Technicians) != 2 || w.Technicians[0].Hours[0] != 8 || w.Technicians[1].Hours[4] != 4.5 || len(w.Holidays) != 1 {
		t.Errorf("weeks %+v", w)
	}
	w, err := c.Written()
	if err != nil {
		t.Fatal(err)
	}
	for addr, want := range map[string]string{
		"reminders.gap_days":             "bellbuoy.toml, line 4",
		"reminders.first_reminder_days":  "bellbuoy.toml, line 5",
		"reminders.second_reminder_days": "settings.toml, line 4",
		"reminders.final_reminder_days":  ", line 0",
		"drop_off.words.own-dock":        "bellbuoy.toml, line 7",
		"drop_off.words.own-lift":        "settings.toml, line 9",
		"place[Our lake].launch":         "bellbuoy.toml, line 10",
		"place[Our lake].winterize_by":   "settings.toml, line 13",
		"place[Other lake].name":         "settings.toml, line 15",
		"weeks.technician[Ruth].hours":   "settings.toml, line 21",
	} {
		if got := w.Origins[addr].String(); got != want {
			t.Errorf("%s is written in %s, want %s", addr, got, want)
		}
	}
	over, err := c.Overruled()
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{
		"settings.toml, line 8: drop_off.words.own-dock is written in bellbuoy.toml, line 7 too, which holds",
		"settings.toml, line 12: place[Our lake].launch is written in bellbuoy.toml, line 10 too, which holds",
		"settings.toml, line 3: reminders.first_reminder_days is written in bellbuoy.toml, line 5 too, which holds",
		"settings.toml, line 2: reminders.gap_days is written in bellbuoy.toml, line 4 too, which holds",
		"settings.toml, line 18: weeks.technician[Inge].hours is written in bellbuoy.toml, line 14 too, which holds",
	}; !reflect.DeepEqual(over, want) {
		t.Errorf("overruled %q", over)
	}
}

// TestPagesFileIsStrict: what no page writes is refused with file and line, and so is
// what makes no sense together, by the file that it stands in.
func TestPagesFileIsStrict(t *testing.T) {
	for _, c := range []struct{ main, pages, want string }{
		{"", "[reminders]\nnudges = 3\n", "settings.toml:2: reminders.nudges: no such setting"},
		{"", "[reminders]\nnudge_days = 3\n", "settings.toml:2: reminders.nudge_days: no such setting"},
		{"", "[shop]\n\n[files]\ndatabase = \"other.db\"\n", "settings.toml:4: files.database: not a setting that pages change"},
		{"", "[serve]\nlisten = \"0.0.0.0:80\"\n", "settings.toml:2: serve.listen: not a setting that pages change"},
		{"", "[mail]\nserver = \"mail.example:25\"\n", "settings.toml:2: mail.server: not"},
		{"", "[mail.imap]\npassword_file = \"p\"\n", "settings.toml:2: mail.imap.password_file: not"},
		{"", "mail = { dkim_key_file = \"k\" }\n", "settings.toml:1: mail.dkim_key_file: not"},
		{"", "[[place]]\nname = \"Lake\"\nforecast = \"/etc/passwd\"\n", "settings.toml:3: place.forecast: not"},
		{"", "[shop]\nurl = \"https://other.example\"\n", "settings.toml:2: shop.url: not"},
		{"", "[backup]\nfolder = \"/\"\n", "settings.toml:2: backup.folder: not"},
		{"", "[shop]\nname = 7\n", "settings.toml:2: shop.name: a value of the kind"},
		{"", "[shop\n", "settings.toml:1: "},
		{"", "[reminders]\ngap_days = 3\n", "settings.toml:2: reminders.gap_days: 3: want 7 to 60"},
		{"[reminders]\ngap_days = 3\n", "[shop]\nname = \"A\"\n", "bellbuoy.toml:2: reminders.gap_days: 3: want 7 to 60"},
		{"[weeks]\nwinterization_margin_weeks = 8\n", "\n[weeks]\nwinterization_first_weeks = 7\n", "settings.toml:3: weeks: winterization_first_weeks 7"},
		{"[[place]]\nname = \"Lake\"\n[[place]]\nname = \"Lake\"\n", "[shop]\nname = \"A\"\n", "named twice"},
		{"", "[[weeks.technician]]\nname = \"A\"\nhours = [1]\n", "settings.toml:"},
		{"[[place]]\nname = \"Lake\"\n", "[[place]]\nname = \"Lake\"\nwinterize_by = \"10-10\"\n", "winterize_by without launch"},
	} {
		if _, err := two(t, c.main, c.pages); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q and %q: %v\nwant %q", c.main, c.pages, err, c.want)
		}
	}
	if _, err := two(t, "[reminders]\ngap_days = 9\n", "[reminders]\ngap_days = 3\n"); err != nil {
		t.Errorf("what does not hold is refused: %v", err)
	}
}

// TestLinesOfValues finds keys however TOML lets them be written.
func TestLinesOfValues(t *testing.T) {
	got := lines([]byte("shop.name = \"A\"\nreminders = { gap_days = 8, \"saturdays\" = true }\nplace = [\n  { name = \"A\" },\n  { name = \"B\", launch = \"05-01\" },\n]\n" +
		"[weeks]\nholidays = [\n  \"2027-07-05\",\n]\ntarget = 0.8\n[[weeks.technician]]\nname = \"\"\"\nx\"\"\"\n[[weeks.technician]]\n\"h\\u006furs\" = [\n8]\n"))
	want := map[string]int{
		"shop.name": 1, "reminders": 2, "reminders.gap_days": 2, "reminders.saturdays": 2, "place": 3, "place#0.name": 4, "place#1.name": 5, "place#1.launch": 5,
		"weeks.holidays": 8, "weeks.target": 11, "weeks.technician#0.name": 13, "weeks.technician#1.hours": 16,
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%v\nwant %v", got, want)
	}
}

// TestEdit writes the pages' file: only what differs from before changes, and what is
// written can be read.
func TestEdit(t *testing.T) {
	c, err := two(t, "[shop]\nname = \"A\"\n", "[reminders]\ngap_days = 20\ndaily_limit = 9\n[[place]]\nname = \"Lake\"\n")
	if err != nil {
		t.Fatal(err)
	}
	text, err := c.Edited(Edit{
		Values: map[string]any{"reminders.gap_days": int64(21), "reminders.daily_limit": nil, "weeks.target": 0.7, "drop_off.words.own-dock": "A \"b\"\n"},
		Blocks: map[string][]map[string]any{"place": {{"name": "Lake [1].x", "launch": "05-15"}, {"name": "Lake"}},
			"weeks.technician": {{"name": "T", "hours": []any{8.0, 8.0, 8.0, 8.0, 7.5, 0.0, 0.0}}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	n, err := c.With(text)
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	if n.Reminders.GapDays != 21 || n.Reminders.DailyCap != 60 || n.Weeks.Target != 0.7 || n.DropOff.Words["own-dock"] != "A \"b\"\n" ||
		len(n.Places) != 2 || n.Places[0].Launch.String() != "05-15" || n.Weeks.Technicians[0].Hours[4] != 7.5 {
		t.Errorf("%+v of\n%s", n, text)
	}
	was, err1 := c.Written()
	is, err2 := n.Written()
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	want := []string{"weeks.technician[T].name", "weeks.technician[T].hours", "weeks.target", "place[Lake [1].x].name", "place[Lake [1].x].launch",
		"reminders.gap_days", "reminders.daily_limit", "drop_off.words.own-dock"}
	if got := was.Differences(is); !reflect.DeepEqual(got, want) {
		t.Errorf("%q\nwant %q", got, want)
	}
}

// TestSettingsOfPages: every setting of the list is one, every one of the template is
// in the list or named here, and what init writes fixes none of the list.
func TestSettingsOfPages(t *testing.T) {
	byHand := []string{"shop.url", "files.", "mail.", "serve.", "backup.", "lease."}
	all, err := flatten("", Template)
	if err != nil {
		t.Fatal(err)
	}
	listed := make(map[string]bool)
	for _, s := range Settings() {
		if listed[s.Key] {
			t.Errorf("%s is listed twice", s.Key)
		}
		listed[s.Key] = true
		if _, known := all.Values[s.Key]; !known && s.Block == "" && s.Page != "yard" && !strings.HasPrefix(s.Key, "drop_off.words.") {
			t.Errorf("%s is not in the template", s.Key)
		}
	}
	for key := range all.Values {
		hand := false
		for _, h := range byHand {
			hand = hand || strings.HasPrefix(key, h)
		}
		if hand == listed[key] {
			t.Errorf("%s: listed %t, by hand %t", key, listed[key], hand)
		}
	}
	initial, err := flatten("", Initial())
	if err != nil {
		t.Fatal(err)
	}
	for key := range initial.Values {
		if listed[key] {
			t.Errorf("init fixes %s", key)
		}
	}
	a, err1 := Parse("bellbuoy.toml", Initial())
	b, err2 := Parse("bellbuoy.toml", Template)
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	a.main, b.main = nil, nil
	if !reflect.DeepEqual(a.Settings(), b.Settings()) || !reflect.DeepEqual(a.Reminders, b.Reminders) || a.Shop != b.Shop {
		t.Error("what init writes is not the template")
	}
}

// TestChoicesOfPagesAreTaken: every choice that a page offers is one that the check
// takes, and no language, country, berth or kind of boat is left out.
func TestChoicesOfPagesAreTaken(t *testing.T) {
	main, err := Parse("bellbuoy.toml", nil)
	if err != nil {
		t.Fatal(err)
	}
	offered := make(map[string]int)
	for _, s := range Settings() {
		offered[s.Key] = len(s.Of)
		for _, c := range s.Of {
			e := Edit{Values: map[string]any{s.Key: c.Value}}
			if s.Block != "" {
				row := map[string]map[string]any{"yard.work": {"haul": int64(30)}, "price": {"amount": 129.5}}[s.Block]
				row[s.Key[len(s.Block)+1:]] = c.Value
				e = Edit{Blocks: map[string][]map[string]any{s.Block: {row}}}
			}
			text, err := main.Edited(e)
			if err == nil {
				_, err = main.With(text)
			}
			if err != nil {
				t.Errorf("%s %q: %v", s.Key, c.Value, err)
			}
		}
	}
	for key, want := range map[string]int{"shop.language": len(texts.Languages()), "yard.work.berth": len(schedule.Berths) + 1, "yard.work.kind": len(schedule.BoatKinds) + 1} {
		if offered[key] != want {
			t.Errorf("%s offers %d, there are %d", key, offered[key], want)
		}
	}
}

// TestASettingsFileOfThatName: a shop whose own file has the name that pages want is
// read as before, and its pages can change nothing.
func TestASettingsFileOfThatName(t *testing.T) {
	path := filepath.Join(t.TempDir(), "settings.toml")
	if err := os.WriteFile(path, []byte("[files]\ndatabase = \"shop.db\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := Load(path)
	if err != nil {
		t.Fatal(err)
	}
	if c.CanChange() == "" {
		t.Error("pages would write over it")
	}
}
