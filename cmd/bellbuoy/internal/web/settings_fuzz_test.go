package web_test

import (
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/web"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
)

// FuzzSettingsForms sends whatever the owner's forms of settings may hold. No answer
// is a fault of ours, and the files can be read after each: a daemon that starts then
// has its settings.
func FuzzSettingsForms(f *testing.F) {
	pages := []string{"shop", "weeks", "closed", "places", "yard", "reminders", "drop-off", "freeze", "planning", "formats"}
	for i, typed := range []string{
		"shop.name=A%0d%0aB&shop.url=https://a.example&shop.country=CA", "weeks.allowance=nan&weeks.target=1e400&weeks.technician.0.hours.Mon=-1",
		"weeks.holidays=2027-02-29%0a2027-07-05&weeks.holiday_calendar=mars", "place.0.name=Our+lake&place.0.launch=02-29&place.0.lay_up=13-01",
		"yard.work.0.haul=30&yard.lifts.Mon=9223372036854775808", "reminders.gap_days=0&reminders.from=25:61&reminders.parts_to_order=%00",
		"drop_off.from_hour=9:30&drop_off.words.own-dock=%22%22%22%0d%0a%5c", "freeze.alarm_chance=140", "plan.percentile=", "formats.clock=13",
	} {
		f.Add(byte(i), typed)
	}
	s := newTestShop(f)
	owner := s.hire("Odile", "owner")
	srv, err := web.New(site.Options{App: s.app, Now: func() time.Time { return s.now }, Log: slog.New(slog.DiscardHandler), Adopt: s.adopt, PasswordCost: cheap})
	if err != nil {
		f.Fatal(err)
	}
	s.site, s.server = srv.Handler(), srv
	means := []int{http.StatusSeeOther, http.StatusBadRequest, http.StatusConflict, http.StatusUnprocessableEntity}
	f.Fuzz(func(t *testing.T, which byte, body string) {
		s.t = t
		typed, err := url.ParseQuery(body)
		if err != nil {
			return
		}
		page := pages[int(which)%len(pages)]
		form := s.settingsForm(owner, page)
		for name, v := range typed {
			form[name] = v
		}
		if a := s.as(owner, "POST", "/settings/"+page, form); !slices.Contains(means, a.Code) {
			t.Errorf("%s with %q answered %d: %s", page, body, a.Code, a.text())
		}
		if _, err := config.Load(s.app.Config.Name()); err != nil {
			t.Errorf("%s with %q: the settings cannot be read any more: %v", page, body, err)
		}
	})
}
