package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

const perchVisit = "PERCH.fit-out.2027"

// dayOffered is the first day that a visit's page offers.
func dayOffered(t *testing.T, page answered) string {
	t.Helper()
	m := regexp.MustCompile(`name="day" value="([0-9-]+)" checked`).FindStringSubmatch(page.Body.String())
	if m == nil {
		t.Fatalf("no day is offered: %s", page.text())
	}
	return m[1]
}

func TestCustomerTakesADayAndGivesItBack(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	s.get(my).code(http.StatusOK).says("Hello Maren Jørstad", "Perch Pressure", "Spring commissioning", "planned, not booked yet", "an estimate before tax").
		silent("Blue Hour", "Slow Sunday", "This week")
	confirmed := func() int { return strings.Count(s.feed("W1"), "STATUS:CONFIRMED") }
	atFirst := confirmed() // days that stand by law

	page := s.get(my+"/visit/"+perchVisit).code(http.StatusOK).says("Choose your day", "I bring the boat on")
	day := dayOffered(t, page)

	to := s.post(my+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {day}, "note": {"the bilge pump hums\r\nall night"}}).code(http.StatusSeeOther).to()
	s.get(to).code(http.StatusOK).says("Spring commissioning, ", "booked.", "Take it back")
	want := []schedule.Booking{{BoatID: "PERCH", VisitID: perchVisit, Kind: schedule.FitOut, Day: mustDay(t, day), Minute: -1}}
	if diff := cmp.Diff(want, s.facts("PERCH").Bookings); diff != "" {
		t.Error(diff)
	}
	if n := confirmed(); n != atFirst+1 {
		t.Errorf("the calendar holds %d fixed days after booking, want one more than %d", n, atFirst)
	}
	s.get(my).says("booked", "Change or cancel")

	id := to[strings.LastIndexByte(to, '/')+1:]
	to = s.post(my+"/undo", url.Values{"id": {id}}).code(http.StatusSeeOther).to()
	s.get(to).code(http.StatusOK).says("Taken back", "planned, not booked yet")
	if b := s.facts("PERCH").Bookings; len(b) != 0 {
		t.Errorf("still booked: %+v", b)
	}
	if n := confirmed(); n != atFirst {
		t.Errorf("the calendar holds %d fixed days after taking it back, want %d", n, atFirst)
	}
}

func mustDay(t testing.TB, text string) civil.Day {
	t.Helper()
	d, err := civil.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestOnlyWeeksWithRoomAreOffered(t *testing.T) {
	s := newTestShop(t)
	page := s.get(s.my("W1") + "/visit/" + perchVisit)
	weeks := regexp.MustCompile(`<option value="(2027-W\d\d)"`).FindAllStringSubmatch(page.Body.String(), -1)
	if len(weeks) < 3 {
		t.Fatalf("%d weeks offered", len(weeks))
	}
	full := weeks[1][1]
	w, err := civil.ParseWeek(full)
	if err != nil {
		t.Fatal(err)
	}
	for d := w.Monday(); d <= w.Sunday(); d++ {
		if err := storetest.Writer(t, s.app.DB).CloseDay(t.Context(), s.now, "desk", store.ClosedDay{Day: d, Why: "away"}); err != nil {
			t.Fatal(err)
		}
	}
	page = s.get(s.my("W1") + "/visit/" + perchVisit)
	if strings.Contains(page.Body.String(), full) {
		t.Errorf("%s is offered though the shop is closed", full)
	}
	day := w.Monday().String()
	s.post(s.my("W1")+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {day}}).
		code(http.StatusUnprocessableEntity).says("The week of " + words.Format{}.Date(w.Monday()) + " has just filled up")
}

func TestOnlyDaysWithRoomAreOffered(t *testing.T) {
	s := newTestShop(t)
	path := s.my("W1") + "/visit/" + perchVisit
	day := mustDay(t, dayOffered(t, s.get(path)))
	// One technician's day, at three quarters, is 6 hours.
	heron := s.nextVisit("HERON")
	if own := s.nextVisit("PERCH").Labour; own+heron.Labour <= 360 {
		t.Fatalf("labour %d and %d minutes: both fit one day", own, heron.Labour)
	}
	b := schedule.Booking{VisitID: heron.ID, BoatID: "HERON", Kind: heron.Kind, Day: day, Minute: -1}
	if err := storetest.Writer(t, s.app.DB).Book(t.Context(), s.now, "desk", b, nil, nil); err != nil {
		t.Fatal(err)
	}
	if got := dayOffered(t, s.get(path+"?week="+day.Week().String())); got == day.String() {
		t.Errorf("%s is offered though another boat has it", got)
	}
	s.post(s.my("W1")+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {day.String()}}).
		code(http.StatusUnprocessableEntity).says("has just filled up. Please choose another day")
}

// TestADayTooSoonIsRefused: a form that names a day within the shop's notice takes
// nothing, and says so at the field.
func TestADayTooSoonIsRefused(t *testing.T) {
	s := newTestShop(t)
	s.now = mustDay(t, "2027-05-03").At(9, 0, s.app.Config.Zone()) // a Monday
	if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
		t.Fatal(err)
	}
	form := url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {"2027-05-05"}}
	s.post(s.my("W1")+"/answer", form).code(http.StatusUnprocessableEntity).says("comes too soon: we need 3 working days")
	if s.nextVisit("PERCH").Booking != nil {
		t.Error("it is booked")
	}
	form.Set("day", "2027-05-06")
	s.post(s.my("W1")+"/answer", form).code(http.StatusSeeOther)
}

// TestPartsToOrderNeedTime: a visit that uses a part that is ordered for it is offered
// no day before that can have come, and no reminder leaves when that is too late.
func TestPartsToOrderNeedTime(t *testing.T) {
	first := func(settings string) string {
		s := emptyTestShop(t, shopSettings+settings)
		s.intake(workedFolder(t), workedFiles...)
		s.now = mustDay(t, "2027-04-19").At(9, 0, s.app.Config.Zone()) // a Monday
		if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
			t.Fatal(err)
		}
		v := s.nextVisit("PERCH")
		open, err := s.app.Openings(t.Context(), []*schedule.Visit{&v}, s.today())
		if err != nil || len(open) == 0 {
			t.Fatal(open, err)
		}
		return open[0].Day.String()
	}
	var part string
	s := newTestShop(t)
	v := s.nextVisit("PERCH")
	for _, r := range s.app.Planner.Catalogue().Rules {
		if len(r.Parts) > 0 && slices.ContainsFunc(v.Items, func(key string) bool { return strings.Contains(key, "/"+r.Code+"@") }) {
			part = r.Parts[0].Code
		}
	}
	for settings, want := range map[string]string{
		"[reminders]\nparts_to_order = [\"no-such-part\"]\n":                        "2027-04-22", // three working days
		"[reminders]\nparts_to_order = [\"" + part + "\"]\nparts_notice_days = 8\n": "2027-04-29", // eight
	} {
		if got := first(settings); got != want {
			t.Errorf("%s: the first day is %s, want %s", settings, got, want)
		}
	}
}

// dropOffSettings are those of a shop with two drop-off times.
const (
	dropOffSettings = shopSettings + dropOffTimes
	dropOffTimes    = "[drop_off]\ntimes = [\"08:00\", \"10:30\"]\n"
)

// choices are the days and hours that a page offers.
func choices(page answered) []string {
	var all []string
	for _, m := range regexp.MustCompile(`name="day" value="([^"]+)"`).FindAllStringSubmatch(page.Body.String(), -1) {
		all = append(all, m[1])
	}
	return all
}

// TestOnlyHoursWithRoomAreOffered: of a day's drop-off times those are offered at which
// nobody else comes, and what somebody else has taken meanwhile is refused.
func TestOnlyHoursWithRoomAreOffered(t *testing.T) {
	s := emptyTestShop(t, dropOffSettings)
	s.intake(workedFolder(t), workedFiles...)
	path := s.my("W1") + "/visit/" + perchVisit
	before := choices(s.get(path))
	if len(before) < 4 || !strings.HasSuffix(before[0], " 08:00") || !strings.HasSuffix(before[1], " 10:30") {
		t.Fatalf("offered %q", before)
	}
	day := mustDay(t, before[0][:10])
	// The desk expects another boat at a quarter past eight: that is the first time.
	heron := s.nextVisit("HERON")
	heron.Labour = 0
	b := schedule.Booking{VisitID: heron.ID, BoatID: "HERON", Kind: heron.Kind, Day: day + 1, Minute: 8*60 + 15}
	if err := storetest.Writer(t, s.app.DB).Book(t.Context(), s.now, "desk", b, nil, nil); err != nil {
		t.Fatal(err)
	}
	taken := (day + 1).String() + " 08:00"
	if got := choices(s.get(path + "?week=" + day.Week().String())); slices.Contains(got, taken) {
		t.Errorf("%s is offered: %q", taken, got)
	}
	my := s.my("W1") + "/answer"
	s.post(my, url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {day.String()}}).code(http.StatusUnprocessableEntity)
	s.post(my, url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {day.String() + " 09:00"}}).code(http.StatusUnprocessableEntity)
	done := s.post(my, url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {before[1]}}).code(http.StatusSeeOther).to()
	s.get(done).says("at 10:30 AM: booked.")
	if got := s.nextVisit("PERCH").Booking.When(); got != before[1] {
		t.Errorf("booked for %s, want %s", got, before[1])
	}
}

// TestAsNearAsPossible: the nearest offered day is booked, and pressed again nothing
// more.
func TestAsNearAsPossible(t *testing.T) {
	s := newTestShop(t)
	v := s.nextVisit("PERCH")
	open, err := s.app.Openings(t.Context(), []*schedule.Visit{&v}, s.today())
	if err != nil || len(open) < 8 {
		t.Fatal(open, err)
	}
	my := s.my("W1") + "/answer"
	form := url.Values{"kind": {"near"}, "visit": {perchVisit}, "near": {"some day"}}
	s.post(my, form).code(http.StatusUnprocessableEntity).says("Please enter a day.")
	saturday := open[7].Day.Week().Sunday() - 1
	form.Set("near", saturday.String())
	want := app.Nearest(open, saturday)
	if want.Day >= saturday || saturday-want.Day > 2 {
		t.Fatalf("nearest to Saturday %s is %s", saturday, want.Day)
	}
	first := s.post(my, form).code(http.StatusSeeOther).to()
	if b := s.nextVisit("PERCH").Booking; b == nil || b.Day != want.Day {
		t.Fatalf("booked %+v, want %s", b, want.Day)
	}
	if again := s.post(my, form).code(http.StatusSeeOther).to(); again != first {
		t.Errorf("pressed again it leads to %s, before to %s", again, first)
	}
}

// TestAllBoatsOnOneDay: a customer's boats are booked for one day in one go, by one
// email, and each can be taken back.
func TestAllBoatsOnOneDay(t *testing.T) {
	s := emptyTestShop(t, dropOffSettings)
	s.intake(workedFolder(t), workedFiles...)
	s.now = mustDay(t, "2027-04-05").At(9, 0, s.app.Config.Zone())
	if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
		t.Fatal(err)
	}
	if err := s.app.SwitchSending(t.Context(), s.now, "test", true); err != nil {
		t.Fatal(err)
	}
	my := s.my("W3")
	s.get(my).says("Bring your boats on one day")
	s.get(s.my("W1")).silent("Bring your boats on one day")
	page := s.get(my + "/together").code(http.StatusOK).says("Book this day for all of them")
	form := url.Values{"day": {choices(page)[1]}}
	for _, m := range regexp.MustCompile(`type="hidden" name="visits\[\]" value="([^"]+)"`).FindAllStringSubmatch(page.Body.String(), -1) {
		if !slices.Contains(form["visits[]"], m[1]) {
			form.Add("visits[]", m[1])
		}
	}
	if len(form["visits[]"]) != 2 {
		t.Fatalf("visits %q", form["visits[]"])
	}
	soon := url.Values{"visits[]": form["visits[]"], "day": {"2027-04-06 08:00"}}
	s.post(my+"/together", soon).code(http.StatusUnprocessableEntity).says("Nothing was booked.", "comes too soon").
		holds(`aria-describedby="refused-1"`)
	done := s.post(my+"/together", form).code(http.StatusSeeOther).to()
	s.get(done).says("Please bring the boats to", "at 10:30 AM: booked.")
	s.post(my+"/together", form).code(http.StatusSeeOther) // pressed twice
	day, _, _ := strings.Cut(form.Get("day"), " ")
	for boat, want := range map[string]string{"LARK": day /* in our storage */, "PUFFIN": form.Get("day")} {
		if got := s.nextVisit(boat).Booking.When(); got != want {
			t.Errorf("%s is booked for %q, want %s", boat, got, want)
		}
	}
	letters, err := outbox.Messages(t.Context(), s.app.DB, outbox.MessageQuery{CustomerID: "W3"})
	if err != nil || len(letters) != 1 {
		t.Fatalf("%d emails, want one: %v", len(letters), err)
	}
	ids := regexp.MustCompile(`name="id" value="([0-9]+)"`).FindAllStringSubmatch(s.get(done).Body.String(), -1)
	if len(ids) != 2 {
		t.Fatalf("%d answers to take back, want two", len(ids))
	}
	s.post(my+"/undo", url.Values{"id": {ids[0][1]}}).code(http.StatusSeeOther)
	if a, b := s.nextVisit("LARK").Booking, s.nextVisit("PUFFIN").Booking; (a == nil) == (b == nil) {
		t.Errorf("booked %v and %v, want one of them", a, b)
	}
}

func TestBookedDayIsMovedAndCancelled(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	page := my + "/visit/" + perchVisit
	first := dayOffered(t, s.get(page))
	s.post(my+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {first}}).code(http.StatusSeeOther)
	second := dayOffered(t, s.get(page).says("Choose another day", "Cancel the day"))
	if second == first {
		t.Fatal("the booked day itself is offered again")
	}
	s.post(my+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {second}, "was": {first}}).code(http.StatusSeeOther)
	if b := s.facts("PERCH").Bookings; len(b) != 1 || b[0].Day.String() != second {
		t.Fatalf("bookings %+v, want %s", b, second)
	}
	to := s.post(my+"/answer", url.Values{"kind": {"cancel"}, "visit": {perchVisit}, "was": {second}}).code(http.StatusSeeOther).to()
	s.get(to).says("canceled. The work itself still falls due")
	if b := s.facts("PERCH").Bookings; len(b) != 0 {
		t.Fatalf("bookings %+v after cancelling", b)
	}
	s.post(my+"/undo", url.Values{"id": {to[strings.LastIndexByte(to, '/')+1:]}}).code(http.StatusSeeOther)
	// On the day itself only the telephone helps.
	s.now = mustDay(t, second).At(8, 0, s.app.Config.Zone())
	s.get(page).code(http.StatusOK).says("The day has come").silent("Book this day", "Cancel the day")
	for _, kind := range []string{"cancel", "take"} {
		s.post(my+"/answer", url.Values{"kind": {kind}, "visit": {perchVisit}, "day": {first}, "was": {second}}).code(http.StatusUnprocessableEntity)
	}
}

// answers are one form of each kind that W1 may send about PERCH, and what the
// page that follows says.
func answers() map[string]struct {
	form url.Values
	says string
} {
	return map[string]struct {
		form url.Values
		says string
	}{
		"later":     {url.Values{"kind": {"later"}, "visit": {perchVisit}, "until": {"2026-12-09"}}, "we ask you again after December 9, 2026"},
		"decline":   {url.Values{"kind": {"decline"}, "visit": {perchVisit}}, "you do not want it"},
		"call":      {url.Values{"kind": {"call"}, "visit": {perchVisit}, "note": {"after six"}}, "You asked us to call you"},
		"ring me":   {url.Values{"kind": {"call"}}, "You asked us to call you"},
		"elsewhere": {url.Values{"kind": {"elsewhere"}, "visit": {perchVisit}, "line": {perchJob}, "day": {"2026-11-20"}, "note": {"a friend"}}, "Done elsewhere"},
		"renewed":   {url.Values{"kind": {"elsewhere"}, "boat": {"PERCH"}, "item": {"PERCH-RG/registration@2027-03-31"}, "day": {"2026-11-20"}}, "Done elsewhere"},
		"hours":     {url.Values{"kind": {"hours"}, "boat": {"PERCH"}, "h-PERCH-E1": {"400"}, "day": {"2026-11-25"}}, "You read the hour meter"},
		"sold":      {url.Values{"kind": {"sold"}, "boat": {"PERCH"}, "note": {"my cousin"}}, "no longer yours"},
		"mails":     {url.Values{"kind": {"mails"}, "mails": {"booked"}}, "You chose to get no reminders: emails about booked visits only."},
	}
}

func TestEveryAnswerIsConfirmedAndTakenBack(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for name, c := range answers() {
		t.Run(name, func(t *testing.T) {
			s := newTestShop(t)
			my := s.my("W1")
			before, plan, feed := s.facts("PERCH"), s.plan("PERCH"), withoutStamps(s.feed("W1"))
			to := s.post(my+"/answer", c.form).code(http.StatusSeeOther).to()
			s.get(to).code(http.StatusOK).says(c.says, "Take it back")
			s.get(my).code(http.StatusOK).says(c.says)
			if note := c.form.Get("note"); note != "" {
				s.asDesk().get("/replies").code(http.StatusOK).says("Maren Jørstad", note)
			}
			s.now = s.now.Add(47 * time.Hour)
			to = s.post(my+"/undo", url.Values{"id": {to[strings.LastIndexByte(to, '/')+1:]}}).code(http.StatusSeeOther).to()
			s.get(to).code(http.StatusOK).says("Taken back").silent(c.says)
			s.now = s.now.Add(-47 * time.Hour)
			if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(before.Records, s.facts("PERCH").Records); diff != "" {
				t.Errorf("the records are not as before:\n%s", diff)
			}
			if diff := cmp.Diff(before.Readings, s.facts("PERCH").Readings); diff != "" {
				t.Errorf("the readings are not as before:\n%s", diff)
			}
			if diff := cmp.Diff(plan.Items, s.plan("PERCH").Items); diff != "" {
				t.Errorf("the plan is not as before:\n%s", diff)
			}
			if got := withoutStamps(s.feed("W1")); strings.Count(got, "BEGIN:VEVENT") != strings.Count(feed, "BEGIN:VEVENT") {
				t.Error("the calendar has not the same events")
			}
		})
	}
}

// withoutStamps leaves out what moves with every change of an event.
func withoutStamps(feed string) string {
	return regexp.MustCompile(`(?m)^(DTSTAMP|LAST-MODIFIED|SEQUENCE):.*$`).ReplaceAllString(feed, "")
}

// perchJob is a job of perchVisit, as its page names it.
const perchJob = "PERCH-FX extinguisher"

// unfold joins a feed's folded lines.
func unfold(feed string) string { return strings.ReplaceAll(feed, "\r\n ", "") }

func TestWorkDoneElsewhereMovesThePlan(t *testing.T) {
	s := newTestShop(t)
	line := ""
	page := s.get(s.my("W1") + "/visit/" + perchVisit).Body.String()
	for _, m := range regexp.MustCompile(`name="line" value="([^"]+)"> ([^<]*)</label>`).FindAllStringSubmatch(page, -1) {
		if strings.HasPrefix(m[2], "Water pump impeller (Port engine)") {
			line = m[1]
		}
	}
	if line == "" {
		t.Fatalf("the impeller is not among the jobs: %s", page)
	}
	due := func() civil.Day {
		for _, it := range s.plan("PERCH").Items {
			if it.ComponentID == "PERCH-E1" && it.Rule == "impeller" {
				return it.Due
			}
		}
		return 0
	}
	if got := due().String(); got != "2027-04-12" {
		t.Fatalf("the impeller is due %s before", got)
	}
	form := url.Values{"kind": {"elsewhere"}, "visit": {perchVisit}, "line": {line}, "day": {"2026-11-20"}, "h-PERCH-E1": {"400"}}
	s.post(s.my("W1")+"/answer", form).code(http.StatusSeeOther)
	if got := due().String(); got != "2029-11-20" {
		t.Errorf("the impeller is due %s after, want three years from the day it was done", got)
	}
	var found bool
	for _, r := range s.facts("PERCH").Records {
		if r.Service == "impeller" && r.By == schedule.ByElsewhere {
			found = r.Day.String() == "2026-11-20" && r.HasHours && r.Hours == 4000
		}
	}
	if !found {
		t.Error("no record of the work elsewhere with its hours")
	}
}

func TestFormsSayWhatIsWrong(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, c := range []struct {
		name string
		form url.Values
		says string
	}{
		{"no day", url.Values{"kind": {"take"}, "visit": {perchVisit}}, "Please choose a day"},
		{"a day long past", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {"2026-01-05"}}, "cannot be booked any more"},
		{"nothing ticked", url.Values{"kind": {"elsewhere"}, "visit": {perchVisit}, "day": {"2026-11-20"}}, "Please tick what was done"},
		{"tomorrow's work", url.Values{"kind": {"elsewhere"}, "visit": {perchVisit}, "all": {"1"}, "day": {"2026-11-26"}}, "still to come"},
		{"no date", url.Values{"kind": {"elsewhere"}, "visit": {perchVisit}, "all": {"1"}, "day": {"Nov 20"}}, "written like 2026-11-25"},
		{"nothing of the list", url.Values{"kind": {"elsewhere"}, "boat": {"PERCH"}, "item": {"PERCH-RG/other"}}, "no longer on your list"},
		{"hours going back", url.Values{"kind": {"hours"}, "boat": {"PERCH"}, "h-PERCH-E1": {"3"}}, "it cannot show 3 h later"},
		{"a missing point", url.Values{"kind": {"hours"}, "boat": {"PERCH"}, "h-PERCH-E1": {"98765"}}, "is a decimal point missing?"},
		{"no number", url.Values{"kind": {"hours"}, "boat": {"PERCH"}, "h-PERCH-E1": {"<b>many"}}, "could not be read"},
		{"no hours at all", url.Values{"kind": {"hours"}, "boat": {"PERCH"}}, "Please enter what the meter shows"},
		{"no kind of mail", url.Values{"kind": {"mails"}, "mails": {"some"}}, "Please choose one of the three"},
		{"later without a day", url.Values{"kind": {"later"}, "visit": {perchVisit}, "until": {"2036-01-01"}}, "Please choose when"},
		{"nothing to cancel", url.Values{"kind": {"cancel"}, "visit": {perchVisit}}, "can no longer be canceled"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newTestShop(t)
			my, before := s.my("W1"), s.fingerprint()
			s.post(my+"/answer", c.form).code(http.StatusUnprocessableEntity).says(c.says).silent("<b>")
			if s.fingerprint() != before {
				t.Error("something was written all the same")
			}
		})
	}
}

func TestAnAddressOpensNothingElse(t *testing.T) {
	s := newTestShop(t)
	mine, other := s.my("W1"), s.my("W3")
	feed := strings.TrimSuffix(s.path(s.app.FeedURL(t.Context(), link.ScopeCustomer, "W1")), ".ics")
	boat := strings.TrimSuffix(s.path(s.app.FeedURL(t.Context(), link.ScopeBoat, "PERCH")), ".ics")
	done := s.post(mine+"/answer", url.Values{"kind": {"call"}}).to()
	id := done[strings.LastIndexByte(done, '/')+1:]
	before := s.fingerprint()
	for _, c := range []struct {
		name, method, path string
		form               url.Values
	}{
		{"nonsense", "GET", "/my/nonsense", nil},
		{"one letter changed", "GET", mine[:len(mine)-1] + "0", nil},
		{"a calendar's address", "GET", "/my/" + strings.TrimPrefix(feed, "/cal/"), nil},
		{"a boat's calendar", "GET", "/my/" + strings.TrimPrefix(boat, "/cal/"), nil},
		{"the address that stops mails", "GET", "/my/" + strings.TrimPrefix(s.stopPath("W1"), "/stop/"), nil},
		{"a page that stops mails by another address", "GET", "/stop/" + strings.TrimPrefix(mine, "/my/"), nil},
		{"another's visit", "GET", other + "/visit/" + perchVisit, nil},
		{"another's answer", "GET", other + "/done/" + id, nil},
		{"taking back another's answer", "POST", other + "/undo", url.Values{"id": {id}}},
		{"answering for another's visit", "POST", other + "/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {"2027-05-04"}}},
		{"selling another's boat", "POST", other + "/answer", url.Values{"kind": {"sold"}, "boat": {"PERCH"}}},
		{"reading another's meter", "POST", other + "/answer", url.Values{"kind": {"hours"}, "boat": {"PERCH"}, "h-PERCH-E1": {"500"}}},
		{"another's call about a boat", "POST", other + "/answer", url.Values{"kind": {"call"}, "boat": {"PERCH"}}},
		{"the staff's pages", "GET", "/boats/PERCH" + strings.TrimPrefix(mine, "/my"), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := s.send(c.method, c.path, c.form, "Sec-Fetch-Site", "same-origin").code(http.StatusNotFound)
			a.silent("Perch Pressure", "Maren")
		})
	}
	if s.fingerprint() != before {
		t.Error("something was written all the same")
	}
}

func TestPagesOfOthersMayNotPost(t *testing.T) {
	s := newTestShop(t)
	before := s.fingerprint()
	s.send("POST", s.my("W1")+"/answer", url.Values{"kind": {"call"}}, "Sec-Fetch-Site", "cross-site").code(http.StatusForbidden)
	if s.fingerprint() != before {
		t.Error("something was written all the same")
	}
}

func TestExchangedAddressesEndTheOld(t *testing.T) {
	s := newTestShop(t)
	my, stop := s.my("W1"), s.stopPath("W1")
	feed := s.path(s.app.FeedURL(t.Context(), link.ScopeCustomer, "W1"))
	s.get(my+"/calendar").code(http.StatusOK).says("Exchange the addresses", "https://service.lindrake.example"+feed)
	to := s.post(my+"/calendar/renew", url.Values{}).code(http.StatusSeeOther).to()
	s.get(to).code(http.StatusOK).says("The addresses are new")
	s.get(my).code(http.StatusGone).says("This link has been replaced", "555-0100")
	s.get(feed).code(http.StatusGone)
	s.get(stop).code(http.StatusOK).says("Stop reminders")
	now := s.my("W1")
	if now == my || !strings.HasPrefix(to, now) {
		t.Fatalf("led to %s, the new page is %s", to, now)
	}
	if f := unfold(s.feed("W1")); !strings.Contains(f, now) || strings.Contains(f, my) {
		t.Error("the calendar's links do not lead to the new page")
	}
}

func TestSoldBoatFallsSilent(t *testing.T) {
	s := newTestShop(t)
	my, before := s.my("W1"), s.feed("W1")
	boat := s.path(s.app.FeedURL(t.Context(), link.ScopeBoat, "PERCH"))
	if !strings.Contains(before, "Perch Pressure") {
		t.Fatal("the calendar does not hold the boat at the start")
	}
	to := s.post(my+"/answer", url.Values{"kind": {"sold"}, "boat": {"PERCH"}}).code(http.StatusSeeOther).to()
	for name, feed := range map[string]string{"customer": s.feed("W1"), "boat": s.get(boat).Body.String()} {
		if !strings.Contains(feed, "BEGIN:VCALENDAR") || strings.Contains(unfold(feed), "fit-out") {
			t.Errorf("the %s's calendar still speaks of it: %s", name, feed)
		}
	}
	s.get(my).says("You told us that you no longer have this boat").silent("Spring commissioning")
	s.get(my + "/visit/" + perchVisit).code(http.StatusNotFound)
	s.get(my + "/record/PERCH").code(http.StatusNotFound)
	s.post(my+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {"2027-05-04"}}).code(http.StatusNotFound)
	r, err := s.app.Recipient(t.Context(), "W1")
	if err != nil {
		t.Fatal(err)
	}
	for d := range civil.Day(400) {
		if n := notify.Decide(r, s.app.Policy(), (s.today()+d).At(10, 0, s.app.Config.Zone())); len(n) > 0 {
			t.Fatalf("%s: %q would go out", s.today()+d, n[0].Key)
		}
	}
	s.post(my+"/undo", url.Values{"id": {to[strings.LastIndexByte(to, '/')+1:]}}).code(http.StatusSeeOther)
	again := s.feed("W1")
	uid := regexp.MustCompile(`(?m)^UID:.*$`)
	if diff := cmp.Diff(uid.FindAllString(before, -1), uid.FindAllString(again, -1)); diff != "" {
		t.Errorf("the events did not come back as the same ones:\n%s", diff)
	}
}

// TestAChangedMeterKeepsItsFigure: what a new meter shows is not refused and lost but
// kept for the desk, and no reading is taken.
func TestAChangedMeterKeepsItsFigure(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	form := url.Values{"kind": {"hours"}, "boat": {"PERCH"}, "h-PERCH-E1": {"3"}}
	s.post(my+"/answer", form).says("If the meter was changed, press the lower button", `The meter was changed`)
	had := len(s.facts("PERCH").Readings)
	form.Set("changed", "1")
	s.get(s.post(my+"/answer", form).code(http.StatusSeeOther).to()).code(http.StatusOK)
	if n := len(s.facts("PERCH").Readings); n != had {
		t.Errorf("%d readings, want %d", n, had)
	}
	s = s.asDesk()
	s.get("/replies").says("The hour meter was changed", "it shows: ", " 3.")
}

// TestServiceRecordNamesNoOwner: a record for whoever buys the boat has hull, engines,
// hours and work, what was paid only if its owner wants that, and nobody's name.
func TestServiceRecordNamesNoOwner(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	s.get(my).says("Service record, to print")
	record := my + "/record/PERCH"
	s.get(record).code(http.StatusOK).says("Perch Pressure", "Service record by Lindrake Boat Works", "Work done", " h, read on ", "Water pump impeller").
		silent("Maren", "Jørstad", "maren@", "296-555-0111", "$")
	s.get(record + "?prices=1").code(http.StatusOK).says("of this owner's time").silent("Maren")
	s.get(s.my("W2") + "/record/PERCH").code(http.StatusNotFound).silent("Work done")
}

// TestACustomerChangesTheirAddress: on their own page, once for each press, and not
// over what the desk changed meanwhile.
func TestACustomerChangesTheirAddress(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	form := asShown(t, s.get(my).code(http.StatusOK), my+"/contact", url.Values{"email": {"maren@new.example"}, "phone": {"296-555-0199"}})
	s.post(my+"/contact", url.Values{"email": {"maren"}, "phone": {""}, "seen": form["seen"], "form": form["form"]}).says("This is no email address")
	s.post(my+"/contact", url.Values{"email": {""}, "phone": {" "}, "seen": form["seen"], "form": form["form"]}).says("Please leave us one of the two")
	s.get(s.post(my+"/contact", form).code(http.StatusSeeOther).to()).says("Saved.")
	c, err := s.app.DB.Customer(t.Context(), "W1")
	if err != nil || c.Email != "maren@new.example" || c.Phone != "296-555-0199" {
		t.Errorf("%+v, %v", c, err)
	}
	form.Set("email", "maren@other.example") // the page of before
	s.post(my+"/contact", form).says("Meanwhile it was changed")
}

// TestNoDayIsOfferedWithoutNotice: the first day that a customer may choose leaves the
// shop its least notice of three working days.
func TestNoDayIsOfferedWithoutNotice(t *testing.T) {
	for today, first := range map[string]string{
		"2027-05-03": "2027-05-06", // a Monday: Thursday is three working days away
		"2027-05-06": "2027-05-11", // a Thursday, with a weekend between
	} {
		s := newTestShop(t)
		s.now = mustDay(t, today).At(9, 0, s.app.Config.Zone())
		if _, err := s.app.Settle(t.Context(), s.now, mustDay(t, today), nil); err != nil {
			t.Fatal(err)
		}
		page := s.get(s.my("W1") + "/visit/" + perchVisit).code(http.StatusOK)
		var days []string
		for _, m := range regexp.MustCompile(`name="day" value="([0-9-]+)"`).FindAllStringSubmatch(page.Body.String(), -1) {
			days = append(days, m[1])
		}
		if len(days) == 0 || days[0] < first {
			t.Errorf("on %s the days are %q, want none before %s", today, days, first)
		}
	}
}
