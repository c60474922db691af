package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// shown is what a customer was shown on a walk through all their pages.
type shown struct {
	name  string
	route string
	answered
}

// walk is a customer's way through their pages.
type walk struct {
	*testShop
	all *[]shown
}

// sees keeps an answer, which must have a code.
func (w walk) sees(code int, route, name string, a answered) answered {
	w.t.Helper()
	a.code(code)
	*w.all = append(*w.all, shown{name, route, a})
	return a
}

// page opens a page below a customer's address.
func (w walk) page(code int, route, name, path string) answered {
	w.t.Helper()
	return w.sees(code, "GET "+route, name, w.get(path))
}

// refused sends a form that is not taken.
func (w walk) refused(code int, route, name, path string, form url.Values) answered {
	w.t.Helper()
	return w.sees(code, "POST "+route, name, w.post(path, form))
}

// taken sends a form that is taken, and looks at the page that it leads to.
func (w walk) taken(route, name, path string, form url.Values) (to string) {
	w.t.Helper()
	to = w.sees(http.StatusSeeOther, "POST "+route, name, w.post(path, form)).to()
	w.sees(http.StatusOK, "", name+", what follows", w.get(to))
	return to
}

// undo takes back what the page at an address confirms.
func (w walk) undo(my, done string) {
	w.t.Helper()
	w.taken("/my/{token}/undo", "taken back", my+"/undo", url.Values{"id": {done[strings.LastIndexByte(done, '/')+1:]}})
}

// walkAll opens every page of a customer and sends every form of theirs, those too
// that are refused, in shops that open makes by settings and with the worked boats.
func walkAll(t *testing.T, open func(settings string) *testShop) []shown {
	var all []shown
	settled := func(settings, day string) walk {
		s := open(settings)
		s.now = mustDay(t, day).At(9, 0, s.app.Config.Zone())
		if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
			t.Fatal(err)
		}
		return walk{s, &all}
	}
	w := settled("", "2026-11-25")
	walkPages(w)
	walkRefusals(w)
	walkStop(w)
	walkAnswers(w)
	walkContact(w)
	walkChanges(w)
	walkRenewal(w)
	walkDays(settled("", "2027-04-20"))
	walkHours(settled(dropOffTimes, "2027-04-05"))
	walkFaults(settled("", "2026-11-25"))
	return all
}

const (
	routeMy     = "/my/{token}"
	routeVisit  = "/my/{token}/visit/{visit...}"
	routeRecord = "/my/{token}/record/{boat...}"
	routeAnswer = "/my/{token}/answer"
	routeDone   = "/my/{token}/done/{id}"
	routeAll    = "/my/{token}/together"
	routeFile   = "/my/{token}/appointment/{visit...}"
	routeStop   = "/stop/{token}"
)

func walkPages(w walk) {
	my := w.my("W1")
	w.page(200, routeMy, "W1", my)
	w.page(200, routeMy, "W2, in storage", w.my("W2"))
	w.page(200, routeMy, "W3", w.my("W3"))
	w.page(200, routeVisit, "a visit", my+"/visit/"+perchVisit)
	w.page(200, routeVisit, "a visit, another week", my+"/visit/"+perchVisit+"?week=2027-W20")
	w.page(200, routeVisit, "in storage", w.my("W2")+"/visit/"+url.PathEscape(w.nextVisit("HERON").ID))
	w.page(200, routeVisit, "on a trailer", w.my("W3")+"/visit/"+url.PathEscape(w.nextVisit("PUFFIN").ID))
	w.page(404, routeVisit, "no visit", my+"/visit/nothing")
	w.page(404, routeMy, "no link", "/my/nonsense")
	w.page(200, routeRecord, "record", my+"/record/PERCH")
	w.page(200, routeRecord, "record with prices", my+"/record/PERCH?prices=1")
	w.page(404, routeRecord, "another's record", my+"/record/HERON")
	w.page(200, "/my/{token}/calendar", "calendar", my+"/calendar")
	w.page(200, "/my/{token}/calendar", "calendar, renewed", my+"/calendar?renewed=1")
	w.page(404, routeDone, "no answer", my+"/done/nothing")
	w.page(404, routeDone, "taken back", my+"/done/99")
	w.page(404, routeAll, "one boat", my+"/together")
	w.page(404, routeFile, "not booked", my+"/appointment/"+perchVisit+".ics")
	w.page(404, routeFile, "no file", my+"/appointment/"+perchVisit)
	desk := walk{w.asDesk(), w.all}
	for _, boat := range []string{"PERCH", "HERON", "PUFFIN"} {
		desk.page(200, "/boats/{id}/delivery-sheet", boat, "/boats/"+boat+"/delivery-sheet")
	}
}

func walkRefusals(w walk) {
	my := w.my("W1")
	answer := func(code int, name string, form url.Values) {
		w.t.Helper()
		w.refused(code, routeAnswer, name, my+"/answer", form)
	}
	at := func(kind string, more ...string) url.Values {
		form := url.Values{"kind": {kind}, "visit": {perchVisit}}
		for i := 0; i < len(more); i += 2 {
			form.Add(more[i], more[i+1])
		}
		return form
	}
	of := func(kind string, more ...string) url.Values {
		form := at(kind, more...)
		form.Del("visit")
		form.Set("boat", "PERCH")
		return form
	}
	answer(422, "no day", at("take"))
	answer(422, "a day long past", at("take", "day", "2026-01-05"))
	answer(422, "nearest to no day", at("near", "near", "some day"))
	answer(422, "nothing ticked", at("elsewhere", "day", "2026-11-20"))
	answer(422, "tomorrow's work", at("elsewhere", "all", "1", "day", "2026-11-26"))
	answer(422, "too long ago", at("elsewhere", "all", "1", "day", "2006-11-26"))
	answer(422, "no date", at("elsewhere", "all", "1", "day", "Nov 20"))
	answer(422, "later without a day", at("later", "until", "2036-01-01"))
	answer(422, "nothing to cancel", at("cancel"))
	answer(400, "no such answer", at("other"))
	answer(400, "no such answer about a boat", of("other"))
	answer(422, "nothing of the list", of("elsewhere", "item", "PERCH-RG/other"))
	answer(422, "hours going back", of("hours", "h-PERCH-E1", "3"))
	answer(422, "a missing point", of("hours", "h-PERCH-E1", "98765"))
	answer(422, "more than later", of("hours", "h-PERCH-E1", "98765", "day", "2024-06-01"))
	answer(422, "hours going back at a visit", at("elsewhere", "all", "1", "day", "2026-11-20", "h-PERCH-E1", "3"))
	answer(422, "no number", of("hours", "h-PERCH-E1", "<b>many"))
	answer(422, "no hours at all", of("hours"))
	answer(422, "no hours of a new meter", of("hours", "changed", "1"))
	answer(422, "no kind of mail", url.Values{"kind": {"mails"}, "mails": {"some"}})
	answer(404, "another's boat", url.Values{"kind": {"sold"}, "boat": {"HERON"}})
	answer(404, "no visit", url.Values{"kind": {"take"}, "visit": {"nothing"}})
	answer(409, "the visit is another", at("take", "day", "2027-05-04", "was", "2027-05-03"))
	w.refused(400, "/my/{token}/undo", "nothing to take back", my+"/undo", url.Values{"id": {"it"}})
	w.refused(404, "/my/{token}/undo", "no such answer", my+"/undo", url.Values{"id": {"99"}})
	w.refused(404, "/my/{token}/undo", "no link", "/my/nonsense/undo", url.Values{"id": {"1"}})
	w.refused(400, routeAnswer, "endless", my+"/answer", url.Values{"kind": {"call"}, "note": {strings.Repeat("é", 1<<20)}})
	// With nobody's number on file.
	c, err := w.app.DB.Customer(w.t.Context(), "W3")
	if err != nil {
		w.t.Fatal(err)
	}
	c.Phone = ""
	if err := storetest.SaveCustomer(w.t.Context(), storetest.Writer(w.t, w.app.DB), w.now, "test", c); err != nil {
		w.t.Fatal(err)
	}
	w.page(200, routeMy, "without a number", w.my("W3"))
	w.page(200, routeVisit, "without a number", w.my("W3")+"/visit/"+url.PathEscape(w.nextVisit("PUFFIN").ID))
	w.refused(422, routeAnswer, "no number to call", w.my("W3")+"/answer", url.Values{"kind": {"call"}, "number": {"12"}})
}

func walkStop(w walk) {
	stop := w.stopPath("W1")
	w.page(200, routeStop, "all", stop)
	w.page(404, routeStop, "no link", "/stop/nonsense")
	w.refused(404, routeStop, "no link", "/stop/nonsense", url.Values{"mails": {"none"}})
	w.refused(400, routeStop, "no choice", stop, url.Values{"mails": {"some"}})
	w.refused(200, routeStop, "one click", stop, url.Values{"List-Unsubscribe": {"One-Click"}})
	w.page(200, routeStop, "no reminders", stop)
	w.taken(routeStop, "none", stop, url.Values{"mails": {"none"}})
	w.page(200, routeStop, "none", stop)
	w.page(200, routeMy, "no mail", w.my("W1"))
	w.taken(routeStop, "all again", stop, url.Values{"mails": {"all"}})
}

func walkAnswers(w walk) {
	my := w.my("W1")
	for _, kind := range []string{"later", "decline", "call", "ring me", "elsewhere", "renewed", "hours", "sold", "mails"} {
		done := w.taken(routeAnswer, kind, my+"/answer", answers()[kind].form)
		w.page(200, routeDone, kind, done)
		w.page(200, routeMy, kind, my)
		if kind == "decline" || kind == "later" {
			w.page(200, routeVisit, kind, my+"/visit/"+perchVisit)
		}
		w.undo(my, done)
	}
	for _, mails := range []string{"none", "all"} {
		w.taken(routeAnswer, "mails "+mails, my+"/answer", url.Values{"kind": {"mails"}, "mails": {mails}})
	}
	w.taken(routeAnswer, "a new meter", my+"/answer", url.Values{"kind": {"hours"}, "boat": {"PERCH"}, "h-PERCH-E1": {"3"}, "changed": {"1"}})
}

func walkContact(w walk) {
	t, my := w.t.(*testing.T), w.my("W1")
	form := asShown(t, w.get(my), my+"/contact", url.Values{"email": {"maren@new.example"}, "phone": {"296-555-0199"}})
	with := func(email, phone string) url.Values {
		return url.Values{"email": {email}, "phone": {phone}, "seen": form["seen"], "form": form["form"]}
	}
	w.refused(422, "/my/{token}/contact", "no address", my+"/contact", with("maren", ""))
	w.refused(422, "/my/{token}/contact", "neither", my+"/contact", with("", " "))
	w.taken("/my/{token}/contact", "saved", my+"/contact", form)
	form.Set("email", "maren@other.example")
	w.refused(422, "/my/{token}/contact", "changed meanwhile", my+"/contact", form)
}

// walkChanges books a day, moves it, cancels it, and lets others be quicker.
func walkChanges(w walk) {
	t, my := w.t.(*testing.T), w.my("W1")
	visit := my + "/visit/" + perchVisit
	first := dayOffered(t, w.get(visit))
	book := url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {first}}
	done := w.taken(routeAnswer, "booked", my+"/answer", book)
	w.page(200, routeVisit, "booked", visit)
	w.page(200, routeMy, "booked", my)
	w.refused(409, routeAnswer, "booked meanwhile", my+"/answer", url.Values{"kind": {"decline"}, "visit": {perchVisit}, "note": {"no time"}})
	w.refused(409, routeAnswer, "booked meanwhile, another day", my+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {dayOffered(t, w.get(visit))}})
	cancelled := w.taken(routeAnswer, "canceled", my+"/answer", url.Values{"kind": {"cancel"}, "visit": {perchVisit}, "was": {first}})
	w.refused(409, routeAnswer, "given up meanwhile", my+"/answer", url.Values{"kind": {"cancel"}, "visit": {perchVisit}, "was": {first}})
	w.page(200, routeMy, "canceled", my)
	w.undo(my, cancelled)
	later := w.now.AddDate(0, 0, 5)
	was := w.now
	w.now = later
	w.refused(409, "/my/{token}/undo", "too late", my+"/undo", url.Values{"id": {done[strings.LastIndexByte(done, '/')+1:]}})
	w.now = was
	w.taken(routeAnswer, "canceled again", my+"/answer", url.Values{"kind": {"cancel"}, "visit": {perchVisit}, "was": {first}})
	// Another boat takes the day, and then the week is closed.
	heron := w.nextVisit("HERON")
	writer := storetest.Writer(w.t, w.app.DB)
	b := schedule.Booking{VisitID: heron.ID, BoatID: "HERON", Kind: heron.Kind, Day: mustDay(t, first), Minute: -1}
	if err := writer.Book(w.t.Context(), w.now, "desk", b, nil, nil); err != nil {
		t.Fatal(err)
	}
	w.refused(422, routeAnswer, "a day that filled up", my+"/answer", book)
	for week, d := b.Day.Week(), b.Day.Week().Monday(); d <= week.Sunday(); d++ {
		if err := writer.CloseDay(w.t.Context(), w.now, "desk", store.ClosedDay{Day: d, Why: "away"}); err != nil {
			t.Fatal(err)
		}
	}
	w.refused(422, routeAnswer, "a week that filled up", my+"/answer", book)
}

// walkRenewal exchanges the addresses and opens the old one.
func walkRenewal(w walk) {
	my := w.my("W1")
	w.taken("/my/{token}/calendar/renew", "renewed", my+"/calendar/renew", url.Values{})
	w.page(410, routeMy, "the old link", my)
	w.page(410, routeFile, "the old link", my+"/appointment/"+perchVisit+".ics")
}

// walkDays comes too soon, on the day, after it and after all days.
func walkDays(w walk) {
	t, my := w.t.(*testing.T), w.my("W1")
	visit := my + "/visit/" + perchVisit
	w.refused(422, routeAnswer, "too soon", my+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {"2027-04-21"}})
	day := dayOffered(t, w.get(visit))
	w.taken(routeAnswer, "booked", my+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {day}})
	for _, after := range []struct {
		name string
		days int
	}{{"on the day", 0}, {"the day after", 1}, {"a month after", 30}} {
		w.now = (mustDay(t, day)).At(8, 0, w.app.Config.Zone()).AddDate(0, 0, after.days)
		if _, err := w.app.Settle(t.Context(), w.now, w.today(), nil); err != nil {
			t.Fatal(err)
		}
		w.page(200, routeMy, after.name, my)
		w.page(200, routeMy, "W3, "+after.name, w.my("W3"))
		w.page(200, routeVisit, after.name, visit)
		if after.days == 0 {
			w.refused(422, routeAnswer, "on the day", my+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {day}, "was": {"x"}})
			w.refused(422, routeAnswer, "canceled on the day", my+"/answer", url.Values{"kind": {"cancel"}, "visit": {perchVisit}, "was": {day}})
		}
	}
}

// walkHours is in a shop with drop-off times, for a customer with two boats.
func walkHours(w walk) {
	my := w.my("W3")
	w.page(200, routeMy, "two boats", my)
	w.page(200, routeVisit, "hours", my+"/visit/"+url.PathEscape(w.nextVisit("PUFFIN").ID))
	page := w.page(200, routeAll, "two boats", my+"/together")
	form := url.Values{"day": {choices(page)[1]}}
	for _, m := range regexp.MustCompile(`type="hidden" name="visits\[\]" value="([^"]+)"`).FindAllStringSubmatch(page.Body.String(), -1) {
		if !strings.Contains(strings.Join(form["visits[]"], " "), m[1]) {
			form.Add("visits[]", m[1])
		}
	}
	w.refused(422, routeAll, "no day", my+"/together", url.Values{"visits[]": form["visits[]"]})
	w.refused(422, routeAll, "too soon", my+"/together", url.Values{"visits[]": form["visits[]"], "day": {"2027-04-06 08:00"}})
	w.refused(422, routeAll, "an hour that there is not", my+"/together", url.Values{"visits[]": form["visits[]"], "day": {choices(page)[0][:10] + " 09:00"}})
	w.refused(422, routeAll, "no such visit", my+"/together", url.Values{"visits[]": {"nothing"}, "day": form["day"]})
	done := w.taken(routeAll, "booked", my+"/together", form)
	w.page(200, routeMy, "both booked", my)
	w.page(200, routeVisit, "booked for an hour", my+"/visit/"+url.PathEscape(w.nextVisit("PUFFIN").ID))
	w.page(200, routeFile, "booked for an hour", my+"/appointment/"+url.PathEscape(w.nextVisit("PUFFIN").ID)+".ics")
	w.page(200, routeDone, "both booked", done)
}

// walkFaults is in a shop whose file is broken.
func walkFaults(w walk) {
	my := w.my("W1")
	storetest.RawAt(w.t, w.app.DB.Path(), "ALTER TABLE answers RENAME TO no_answers")
	w.refused(500, routeAnswer, "our fault", my+"/answer", url.Values{"kind": {"call"}, "note": {"after six"}})
}
