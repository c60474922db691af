package web_test

import (
	"context"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
)

// adopt goes on by other settings, as the daemon does.
func (s *testShop) adopt(_ context.Context, h *app.App) (take func(), err error) {
	srv, err := s.server.With(h, s.server.Now)
	return func() { s.app, s.site, s.server = h, srv.Handler(), srv }, err
}

// settingsForm is the form of a page of settings.
func (s *testShop) settingsForm(cookie, page string) url.Values {
	s.t.Helper()
	t, ok := s.t.(*testing.T)
	if !ok {
		s.t.Fatal("no test")
	}
	return formTo(t, s.as(cookie, "GET", "/settings/"+page, nil).code(http.StatusOK), "/settings/"+page)
}

// fillIn types into a form; seven values are those of a week.
func fillIn(form, typed url.Values) {
	for name, v := range typed {
		if len(v) != 7 {
			form[name] = v
			continue
		}
		for i, day := range []string{"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"} {
			form.Set(name+"."+day, v[i])
		}
	}
}

// saved sends the form of a page with other values and shows the page after it.
func (s *testShop) saved(cookie, page string, other url.Values) answered {
	s.t.Helper()
	form := s.settingsForm(cookie, page)
	fillIn(form, other)
	a := s.as(cookie, "POST", "/settings/"+page, form).code(http.StatusSeeOther)
	return s.send("GET", a.to(), nil, "Cookie", cookie+"; "+cookieOf(a))
}

// TestTheOwnerChangesSettings: what is saved holds at once, is kept in the pages'
// file, is in the change history in words, and goes back to what is usual.
func TestTheOwnerChangesSettings(t *testing.T) {
	s := newTestShop(t)
	owner, desk := s.hire("Odile", "owner"), s.hire("Inge", "desk")
	for _, path := range []string{"/settings", "/settings/reminders"} {
		s.as(desk, "GET", path, nil).code(http.StatusForbidden)
	}
	s.as(desk, "POST", "/settings/reminders", url.Values{"form": {"x"}}).code(http.StatusForbidden)
	s.as(owner, "GET", "/settings", nil).code(http.StatusOK).says("Settings", "4 fixed The shop", "Reminders")
	s.as(owner, "GET", "/settings/nowhere", nil).code(http.StatusNotFound)

	s.saved(owner, "reminders", url.Values{"reminders.gap_days": {"10"}, "reminders.saturdays": {"1"}, "reminders.parts_to_order": {"PLUG-4T\r\nIMP-1\r\n"}}).
		says("Saved: 3 settings changed, and in use at once.", "Changed here; usual is 7.")
	if r := s.app.Config.Reminders; r.GapDays != 10 || !r.Saturdays || !reflect.DeepEqual(r.PartsToOrder, []string{"PLUG-4T", "IMP-1"}) {
		t.Errorf("in force: %+v", r)
	}
	s.saved(owner, "weeks", url.Values{"weeks.allowance": {"62.5"}}).says("Saved: 1 setting changed", "4 boats were planned again.")
	s.saved(owner, "closed", url.Values{"weeks.holidays": {"2027-07-05\n2027-01-02"}}).says("Changed here.")
	s.saved(owner, "drop-off", url.Values{"drop_off.from_hour": {"08:00"}, "drop_off.until_hour": {"09:30"}, "drop_off.words.own-dock": {"Call \"us\".\r\nThen come."}})
	s.saved(owner, "formats", url.Values{"formats.clock": {"24"}}).says("14:30")
	s.saved(owner, "freeze", url.Values{"freeze.alarm_chance": {"40"}})
	s.saved(owner, "planning", url.Values{"plan.percentile": {"33"}})
	c, err := config.Load(s.app.Config.Name())
	if err != nil {
		t.Fatal(err)
	}
	if c.Weeks.Allowance != 0.625 || len(c.Weeks.Holidays) != 2 || c.DropOff.Words["own-dock"] != "Call \"us\". Then come." || c.Formats.Clock != "24" ||
		c.Freeze.AlarmChance != 0.4 || c.Plan.Percentile != 0.33 || c.Reminders.GapDays != 10 {
		t.Errorf("on file: %s", c.Pages())
	}
	s.as(owner, "GET", "/changes?about=settings", nil).says("Odile changed settings", "days between two reminders: 10, before: 7", "share for planned visits: 62.5%, before: 75%",
		"clock: 14:30, before: as is usual in the country", "also on Saturdays: yes, before: no", "further closed days: July 5, 2027, January 2, 2027, before: nothing")

	s.saved(owner, "reminders", url.Values{"reminders.gap_days": {"7"}}).says("The usual value.")
	if strings.Contains(string(pagesFile(t, s)), "gap_days") {
		t.Errorf("the usual value is written down:\n%s", pagesFile(t, s))
	}
	s.saved(owner, "reminders", nil).says("Nothing was changed.")
}

// TestTheOwnerChangesAPrice: the plan asks the new price for the job at once; the
// catalog's holds again when the row is removed.
func TestTheOwnerChangesAPrice(t *testing.T) {
	s := newTestShop(t)
	owner := s.hire("Odile", "owner")
	const job = "fit-out-outboard"
	price := func() measure.Cents {
		t.Helper()
		for _, item := range s.plan("PERCH").Items {
			if item.Rule == job {
				return item.Price
			}
		}
		t.Fatal("no visit has the job")
		return 0
	}
	usual := price()
	s.saved(owner, "prices", url.Values{"price.0.rule": {job}, "price.0.amount": {"1234.5"}}).says("2 settings changed", "planned again")
	if got := price(); got != 123450 {
		t.Errorf("the plan asks %s", got)
	}
	s.as(owner, "GET", "/boats/PERCH", nil).says("about $1,")
	s.as(owner, "GET", "/changes?about=settings", nil).says(job + ", price: 1234.5, before: nothing")
	s.saved(owner, "prices", url.Values{"price.0.remove": {"1"}})
	if got := price(); got != usual {
		t.Errorf("without the row the plan asks %s, want %s", got, usual)
	}
}

func pagesFile(t *testing.T, s *testShop) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(filepath.Dir(s.app.Config.Name()), "settings.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestBlocksOnPages adds, changes and removes technicians, places and the yard's work,
// beside those that a person wrote.
func TestBlocksOnPages(t *testing.T) {
	s := newTestShop(t)
	owner := s.hire("Odile", "owner")
	s.as(owner, "GET", "/settings/weeks", nil).says("Set in bellbuoy.toml, line 14: change it there.")
	s.saved(owner, "weeks", url.Values{"weeks.technician.1.name": {"Ruth"}, "weeks.technician.1.hours": {"4", "4", "4", "4", "4.5", "", ""}}).says("2 settings changed")
	s.saved(owner, "weeks", url.Values{"weeks.technician.1.hours": {"6", "6", "6", "6", "6", "0", "0"}, "weeks.technician.0.name": {"Somebody"}}).says("1 setting changed")
	if w := s.app.Config.Weeks.Technicians; len(w) != 2 || w[0].Name != "Inge" || w[1].Name != "Ruth" || w[1].Hours[0] != 6 {
		t.Errorf("technicians %+v", w)
	}
	s.saved(owner, "places", url.Values{"place.0.cold_water": {"11-20"}, "place.1.name": {"Upper Pond"}, "place.1.launch": {"05-01"}}).says("May 1", "November 20")
	p := s.app.Config.Places
	if len(p) != 2 || p[0].ColdWater.String() != "11-20" || p[0].Launch.String() != "05-15" || p[1].Name != "Upper Pond" {
		t.Errorf("places %+v", p)
	}
	s.as(owner, "GET", "/changes?about=settings", nil).says("Upper Pond, on the water from: May 1, before: nothing", "Ruth, hours, Monday to Sunday: 6, 6, 6, 6, 6, 0, 0, before: 4, 4, 4, 4, 4.5, 0, 0")
	s.saved(owner, "yard", url.Values{"yard.lifts": {"5", "5", "5", "5", "5", "", ""}, "yard.work.0.berth": {"shop-outside"}, "yard.work.0.haul": {"30"}, "yard.work.0.block": {"45"}})
	if y := s.app.Config.Yard; len(y.Work) != 1 || y.Work[0].Haul != 30 || y.Work[0].Block != 45 || y.Work[0].Berth != "shop-outside" || y.Lifts[0] != 5 {
		t.Errorf("yard %+v", y)
	}
	s.saved(owner, "yard", url.Values{"yard.lifts": {"", "", "", "", "", "", ""}, "yard.work.0.remove": {"1"}})
	s.saved(owner, "places", url.Values{"place.1.remove": {"1"}, "place.0.remove": {"1"}})
	s.saved(owner, "weeks", url.Values{"weeks.technician.1.remove": {"1"}})
	if c := s.app.Config; len(c.Places) != 1 || len(c.Weeks.Technicians) != 1 || len(c.Yard.Work)+len(c.Yard.Lifts) != 0 || c.Places[0].ColdWater.IsZero() {
		t.Errorf("places %+v, technicians %+v, yard %+v", c.Places, c.Weeks.Technicians, c.Yard)
	}
}

// TestRefusedSettings: what makes no sense is refused beside its field, what was typed
// is kept, and nothing is changed.
func TestRefusedSettings(t *testing.T) {
	s := newTestShop(t)
	owner := s.hire("Odile", "owner")
	for _, c := range []struct {
		page  string
		typed url.Values
		says  string
	}{
		{"reminders", url.Values{"reminders.gap_days": {"3"}}, "Days between two reminders: want 7 to 60 days."},
		{"reminders", url.Values{"reminders.gap_days": {"a week"}}, "Days between two reminders: write a whole number."},
		{"reminders", url.Values{"reminders.from_hour": {"18:00"}}, "Reminders leave from: want the earlier hour first."},
		{"reminders", url.Values{"reminders.from_hour": {""}}, "Reminders leave from: want a time of day such as 09:00."},
		{"weeks", url.Values{"weeks.target": {"850"}}, "Weeks are filled to: want a share"},
		{"weeks", url.Values{"weeks.target": {"NaN"}}, "Weeks are filled to: write a number."},
		{"weeks", url.Values{"weeks.technician.1.hours": {"8", "8", "8", "8", "8", "0", "0"}}, "Write a name, or tick Remove."},
		{"weeks", url.Values{"weeks.technician.1.name": {"Ruth"}}, "want seven figures"},
		{"weeks", url.Values{"weeks.technician.1.name": {"Ruth"}, "weeks.technician.1.hours": {"8", "x", "8", "8", "8", "0", "0"}}, "Tue: write a number."},
		{"closed", url.Values{"weeks.holidays": {"July 5"}}, "July 5 is not a day. Write it like 2027-07-05."},
		{"closed", url.Values{"weeks.holiday_calendar": {"mars"}}, "Public holidays: choose one of the list."},
		{"places", url.Values{"place.1.name": {"Pond"}, "place.1.launch": {"May"}}, "write a month and a day, such as 05-15."},
		{"places", url.Values{"place.1.name": {"Pond"}, "place.1.winterize_by": {"10-10"}}, "a place that freezes needs both"},
		{"places", url.Values{"place.1.name": {"Lindrake Cove"}}, "There is one of that name above."},
		{"prices", url.Values{"price.0.rule": {"fit-out-outboard"}, "price.0.amount": {"-5"}}, "want an amount above 0, as 129.00"},
		{"prices", url.Values{"price.0.rule": {"fit-out-outboard"}, "price.0.amount": {"12.345"}}, "want an amount above 0, as 129.00"},
		{"yard", url.Values{"yard.lifts": {"1", "1", "1", "1", "1", "1", "1"}}, "no boat needs any"},
		{"drop-off", url.Values{"drop_off.map": {"our dock"}}, "Address of a map: want the address of a map"},
		{"drop-off", url.Values{"drop_off.times": {"10:00\n08:00"}}, "Times to choose from: want times of day"},
		{"planning", url.Values{"plan.horizon_days": {"3"}}, "Days planned ahead: want 200 to 1500 days."},
	} {
		t.Run(c.page+" "+c.says, func(t *testing.T) {
			form := s.settingsForm(owner, c.page)
			fillIn(form, c.typed)
			a := s.as(owner, "POST", "/settings/"+c.page, form).code(http.StatusUnprocessableEntity).says(c.says)
			again := formTo(t, a, "/settings/"+c.page)
			typed := url.Values{}
			fillIn(typed, c.typed)
			for name, v := range typed {
				if strings.Join(again[name], "|") != strings.Join(v, "|") && name != "weeks.holiday_calendar" {
					t.Errorf("%s holds %q, typed was %q", name, again[name], v)
				}
			}
		})
	}
	if c, err := config.Load(s.app.Config.Name()); err != nil || c.Pages() != nil {
		t.Errorf("something was saved: %v %s", err, c.Pages())
	}
}

// TestTwoChangeSettingsAtOnce: the second of two who had the page open is refused with
// what stands now, and may then say so again; another page is not in the way.
func TestTwoChangeSettingsAtOnce(t *testing.T) {
	s := newTestShop(t)
	one, two := s.hire("Odile", "owner"), s.hire("Noor", "owner")
	first, second, apart := s.settingsForm(one, "reminders"), s.settingsForm(two, "reminders"), s.settingsForm(two, "planning")
	first.Set("reminders.gap_days", "14")
	second.Set("reminders.gap_days", "10")
	second.Set("reminders.daily_limit", "20")
	apart.Set("plan.percentile", "30")
	s.as(one, "POST", "/settings/reminders", first).code(http.StatusSeeOther)
	a := s.as(two, "POST", "/settings/reminders", second).code(http.StatusUnprocessableEntity).says("Somebody changed these settings while you had them open", "Now: 14.", "Now: 60.")
	if s.app.Config.Reminders.GapDays != 14 {
		t.Error("the second overwrote the first")
	}
	s.as(two, "POST", "/settings/planning", apart).code(http.StatusSeeOther)
	again := formTo(t, a, "/settings/reminders")
	if again.Get("reminders.gap_days") != "10" {
		t.Errorf("what was typed is gone: %v", again)
	}
	s.as(two, "POST", "/settings/reminders", again).code(http.StatusSeeOther)
	if r := s.app.Config.Reminders; r.GapDays != 10 || r.DailyCap != 20 {
		t.Errorf("%+v", r)
	}
}

// TestFixedSettingsStay: what a person wrote in the file cannot be changed by a form,
// and neither can what no page asks for.
func TestFixedSettingsStay(t *testing.T) {
	s := newTestShop(t)
	owner := s.hire("Odile", "owner")
	s.as(owner, "GET", "/settings/shop", nil).says("Lindrake Boat Works", "Set in bellbuoy.toml, line 2: change it there.")
	s.saved(owner, "shop", url.Values{"shop.name": {"Another name"}, "shop.url": {"https://elsewhere.example"}, "mail.server": {"elsewhere:25"}, "files.database": {"x.db"},
		"shop.email": {"desk@lindrake.example"}}).says("1 setting changed")
	if c := s.app.Config; c.Shop.Name != "Lindrake Boat Works" || c.Shop.URL != "https://service.lindrake.example" || c.Mail.Server != "127.0.0.1:1" || c.Shop.Email != "desk@lindrake.example" {
		t.Errorf("%+v", c.Shop)
	}
}

// TestBrokenSettingsFiles: the shop goes on by what it read, the pages say what is
// wrong, and nothing is saved over it.
func TestBrokenSettingsFiles(t *testing.T) {
	s := newTestShop(t)
	owner := s.hire("Odile", "owner")
	s.saved(owner, "reminders", url.Values{"reminders.gap_days": {"10"}})
	form := s.settingsForm(owner, "reminders")
	path := filepath.Join(filepath.Dir(s.app.Config.Name()), "settings.toml")
	if err := os.WriteFile(path, []byte("[reminders]\ngap_days = 3\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := s.app.Reread(t.Context(), s.adopt); err == nil || !strings.Contains(err.Error(), "settings.toml:2: reminders.gap_days: 3") {
		t.Errorf("read again: %v", err)
	}
	if s.app.Config.Reminders.GapDays != 10 {
		t.Errorf("%+v", s.app.Config.Reminders)
	}
	for _, page := range []string{"/settings", "/settings/reminders"} {
		s.as(owner, "GET", page, nil).code(http.StatusOK).says("The settings files cannot be taken", "settings.toml:2: reminders.gap_days: 3: want 7 to 60 days")
	}
	form.Set("reminders.gap_days", "20")
	s.as(owner, "POST", "/settings/reminders", form).code(http.StatusUnprocessableEntity)
	if b := string(pagesFile(t, s)); b != "[reminders]\ngap_days = 3\n" {
		t.Errorf("written over: %s", b)
	}
	if err := os.WriteFile(path, []byte("[reminders]\ngap_days = 30\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s.as(owner, "GET", "/settings/reminders", nil).says("The files were changed by hand")
}

// TestCapacityByPageIsCapacityByFile: a change of hours levels the weeks the same way,
// whichever file it is written into, and at once.
func TestCapacityByPageIsCapacityByFile(t *testing.T) {
	weeks := func(s *testShop) map[string]civil.Week {
		out := make(map[string]civil.Week)
		for _, boat := range []string{"PERCH", "HERON", "PORCH", "LARK"} {
			for _, v := range s.plan(boat).Visits {
				out[boat+" "+v.ID] = v.Week
			}
		}
		return out
	}
	byPage, byFile := newTestShop(t), newTestShop(t)
	before := weeks(byPage)
	owner := byPage.hire("Odile", "owner")
	byPage.saved(owner, "weeks", url.Values{"weeks.allowance": {"3"}, "weeks.target": {"50"}})
	text, err := os.ReadFile(byFile.app.Config.Name())
	if err != nil {
		t.Fatal(err)
	}
	text = []byte(strings.Replace(string(text), "[[weeks.technician]]", "[weeks]\nallowance = 0.03\ntarget = 0.5\n[[weeks.technician]]", 1))
	if err := os.WriteFile(byFile.app.Config.Name(), text, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := byFile.app.Reread(t.Context(), byFile.adopt); err != nil {
		t.Fatal(err)
	}
	if _, err := byFile.app.Settle(t.Context(), byFile.now, byFile.today(), nil); err != nil {
		t.Fatal(err)
	}
	page, file := weeks(byPage), weeks(byFile)
	if !reflect.DeepEqual(page, file) {
		t.Errorf("by page %v\nby file %v", page, file)
	}
	if reflect.DeepEqual(page, before) {
		t.Error("nothing moved, so that this shows nothing")
	}
}

// TestYardHoursLevelAtOnce: fewer lifts level the weeks again, though the planner goes
// by the same rules.
func TestYardHoursLevelAtOnce(t *testing.T) {
	s := newTestShop(t)
	owner := s.hire("Odile", "owner")
	lifts := func(n string) url.Values {
		return url.Values{"yard.lifts": {n, n, n, n, n, "", ""}, "yard.work.0.haul": {"30"}}
	}
	s.saved(owner, "yard", lifts("5"))
	s.saved(owner, "yard", lifts("1")).says("4 boats were planned again.")
}
