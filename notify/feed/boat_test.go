package feed_test

import (
	"maps"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"bellbuoy/notify/feed"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// inEnglish are the built-in phrases.
var inEnglish = (*texts.Catalog)(nil).In("en")

func feedShop(t testing.TB) feed.Shop {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Skip("no time zone data on this machine")
	}
	return feed.Shop{Name: "Alder Point Marine", Address: "12 Harbor Road, Alder Point", Host: "service.example.com", Zone: zone}
}

func feedLinks() feed.Links {
	return feed.Links{
		Visit: func(id string) string { return "https://service.example.com/my/t0ken?visit=" + id },
		Boat:  "https://service.example.com/my/t0ken",
	}
}

// feedToday is a day before any booked day of feedView.
var feedToday = civil.Of(2027, 1, 4)

// feedView is a boat with a visit in each state that a feed can show, and items
// that no visit carries.
func feedView() schedule.BoatView {
	expiry := func(component, title string, basis schedule.Basis, mine bool, due civil.Day) schedule.Line {
		return schedule.Line{Title: title, Why: "Good until " + words.Format{}.Date(due) + ".", Item: schedule.DueItem{
			BoatID: "B-1", ComponentID: component, Rule: component, Basis: basis, Due: due, ByDate: due, ByCustomer: mine,
		}}
	}
	return schedule.BoatView{
		Boat: schedule.Boat{ID: "B-1", Name: "Heron"},
		Visits: []schedule.VisitView{
			{
				Visit: schedule.Visit{ID: "B-1.fit-out.2027", Kind: schedule.FitOut, Day: civil.Of(2027, 4, 12), Price: 310_00,
					Booking: &schedule.Booking{Day: civil.Of(2027, 4, 14), Minute: 9*60 + 30}},
				Title: "Spring commissioning", Why: "Booked for Wednesday, April 14, 2027 at 9:30 AM.",
				Lines: []schedule.Line{{Title: "Spring commissioning", Why: "Boats at Mirror Lake are launched by May 15, 2027."}},
			},
			{
				Visit: schedule.Visit{ID: "B-1.extra.E-1/impeller@2024-04-12", Kind: schedule.Extra, Day: civil.Of(2027, 7, 5), Price: 148_00,
					Booking: &schedule.Booking{Day: civil.Of(2027, 7, 6), Minute: -1}},
				Title: "Service visit", Why: "Booked for Tuesday, July 6, 2027.",
				Lines: []schedule.Line{{Title: "Water pump impeller", Why: "Last done April 12, 2024 at 188 h.", OwnerCautions: []rules.OwnerCaution{{Text: "Never run the engine without cooling water."}}}},
			},
			{
				Visit: schedule.Visit{ID: "B-1.lay-up.2027", Kind: schedule.LayUp, Day: civil.Of(2027, 10, 4), Week: civil.Of(2027, 10, 4).Week(), Price: 1234_00, Labour: 150},
				Title: "Winterization", Why: "Pencilled for the week of October 4, 2027, to be done by October 25, 2027.",
				Lines: []schedule.Line{
					{Title: "Winterization", Why: "Boats at Mirror Lake are winterized by October 25, 2027.", OwnerCautions: []rules.OwnerCaution{{Text: "Never run an engine indoors.", Life: true}, {Text: "Keep pets from antifreeze."}, {Text: "Mind the trailer."}}},
					{Title: "Engine oil and filter", Included: true, Why: "Every 100 h or 12 months.", OwnerCautions: []rules.OwnerCaution{{Text: "Never run an engine indoors.", Life: true}}},
					{Title: "Gear lube", Included: true},
				},
			},
			{
				Visit: schedule.Visit{ID: "B-1.fit-out.2028", Kind: schedule.FitOut, Day: civil.Of(2028, 5, 1)},
				Title: "Spring commissioning", Why: "About May 1, 2028.",
			},
		},
		Loose: []schedule.Line{
			expiry("X-1", "Fire extinguisher", schedule.BasisExpiry, false, civil.Of(2028, 12, 31)),
			expiry("B-1", "Life jackets looked over", schedule.BasisDate, true, civil.Of(2028, 6, 1)),
			expiry("E-1", "Engine oil, by the owner", schedule.BasisHours, true, civil.Of(2027, 8, 1)),
			expiry("E-1", "Thermostat", schedule.BasisDate, false, civil.Of(2029, 6, 1)),
		},
	}
}

func TestBoatEvents(t *testing.T) {
	events := feed.BoatEvents(feedShop(t), feedView(), feedLinks(), feedToday)
	for i, c := range []struct {
		summary    string
		start, end string // DTSTART and DTEND
		status     string
		location   string
	}{
		{"Spring commissioning — Heron", "20270414T133000Z", "20270414T140000Z", "CONFIRMED", `12 Harbor Road\, Alder Point`},
		{"Service visit — Heron", "20270706", "20270707", "CONFIRMED", `12 Harbor Road\, Alder Point`},
		{"Winterization — Heron (not booked)", "20271004", "20271011", "TENTATIVE", ""},
		{"Spring commissioning — Heron (not booked)", "20280501", "20280502", "TENTATIVE", ""},
		{"Due: Fire extinguisher — Heron", "20281231", "20290101", "CONFIRMED", ""},
		{"Due: Life jackets looked over — Heron", "20280601", "20280602", "CONFIRMED", ""},
		{`Due: Engine oil\, by the owner — Heron`, "20270801", "20270802", "TENTATIVE", ""},
	} {
		t.Run(c.summary+c.start, func(t *testing.T) {
			if i >= len(events) {
				t.Fatal("no such event")
			}
			p := feedProps(t, feedRender(t, events[i]))
			start, end := p["DTSTART"]+p["DTSTART;VALUE=DATE"], p["DTEND"]+p["DTEND;VALUE=DATE"]
			if p["SUMMARY"] != c.summary || start != c.start || end != c.end || p["STATUS"] != c.status || p["LOCATION"] != c.location {
				t.Errorf("got %s, %s to %s, %s, at %q; want %+v", p["SUMMARY"], start, end, p["STATUS"], p["LOCATION"], c)
			}
		})
	}
	if len(events) != 7 {
		t.Errorf("%d events, want 7: what the shop does without a visit yet is no event", len(events))
	}
}

// TestADayThatPassedSaysSo: an appointment that is over and still in the plan has
// no recorded work, and neither customer nor desk reads it as one to come.
func TestADayThatPassedSaysSo(t *testing.T) {
	for _, c := range []struct {
		today   civil.Day
		summary string
		note    bool
	}{
		{civil.Of(2027, 4, 14), "Spring commissioning — Heron", false},
		{civil.Of(2027, 4, 15), "Day passed: Spring commissioning — Heron", true},
	} {
		events := feed.BoatEvents(feedShop(t), feedView(), feedLinks(), c.today)
		block := feedRender(t, events[0])
		desk, err := feed.DeskEvent(inEnglish, block)
		if err != nil {
			t.Fatal(err)
		}
		for who, p := range map[string]map[string]string{"customer": feedProps(t, block), "desk": feedProps(t, desk)} {
			note := strings.Contains(p["DESCRIPTION"], "has passed and no work is recorded yet")
			if p["SUMMARY"] != c.summary || note != c.note {
				t.Errorf("%s on %s: %q, %s", who, c.today, p["SUMMARY"], p["DESCRIPTION"])
			}
		}
		if next := events[1]; next.Summary != "Service visit — Heron" {
			t.Errorf("%s: the July visit is %q", c.today, next.Summary)
		}
	}
}

func TestBoatFeedGolden(t *testing.T) {
	var blocks [][]byte
	for _, e := range feed.BoatEvents(feedShop(t), feedView(), feedLinks(), feedToday) {
		blocks = append(blocks, feedRender(t, e))
	}
	feed, err := feed.Calendar(feed.Head{
		Name: "Heron — service", Description: "What is planned for Heron at Alder Point Marine. Clients look every few hours: for news of today, call.",
		Page: "https://service.example.com/my/t0ken", Source: "https://service.example.com/cal/f33d.ics",
	}, blocks)
	if err != nil {
		t.Fatal(err)
	}
	feedGolden(t, "boat.ics", feed.Body)
}

func TestDeskEvent(t *testing.T) {
	for _, e := range feed.BoatEvents(feedShop(t), feedView(), feedLinks(), feedToday) {
		t.Run(e.Summary, func(t *testing.T) {
			block := feedRender(t, e)
			desk, err := feed.DeskEvent(inEnglish, block)
			if err != nil {
				t.Fatal(err)
			}
			was, is := feedProps(t, block), feedProps(t, desk)
			note := is["DESCRIPTION"]
			if strings.Contains(note, "https:") || strings.Contains(note, "Not booked") || strings.Contains(note, "Safety") || !strings.HasSuffix(note, `The engine maker's manual\, local codes and a qualified technician come first.`) {
				t.Errorf("the desk's note is %s", note)
			}
			for p := range strings.SplitSeq(was["DESCRIPTION"], `\n\n`) {
				if strings.HasPrefix(p, "Planned: ") && !strings.Contains(note, p) {
					t.Errorf("the desk's note is %s, of\n%s", note, was["DESCRIPTION"])
				}
			}
			delete(was, "URL")
			was["DESCRIPTION"] = note
			if !maps.Equal(was, is) {
				t.Errorf("got %v, want %v", is, was)
			}
			if _, err := feed.Calendar(feed.Head{Name: "All visits"}, [][]byte{desk}); err != nil {
				t.Error(err)
			}
		})
	}
	if _, err := feed.DeskEvent(inEnglish, []byte("BEGIN:VEVENT\r\nUID:")); err == nil {
		t.Error("half an event is taken")
	}
}

func TestVisitNote(t *testing.T) {
	shop := feedShop(t)
	note := func(view schedule.BoatView, links feed.Links) string {
		return feed.BoatEvents(shop, view, links, feedToday)[2].Description
	}
	answer := "https://service.example.com/my/t0ken?visit=B-1.lay-up.2027"
	t.Run("the link first, then what, why, about how much, cautions once", func(t *testing.T) {
		got := note(feedView(), feedLinks())
		if want := "Not booked yet. Book it, ask for another week, or say it is done:\n" + answer + "\n\n"; !strings.HasPrefix(got, want) {
			t.Errorf("does not begin with the link:\n%s", got)
		}
		for _, want := range []string{
			feedView().Visits[2].Why,
			"Planned: " + feedView().Visits[2].Title + "; Engine oil and filter; Gear lube.",
			"About $1,234, an estimate.", // as the email and the page have it
			"Safety: Never run an engine indoors. Keep pets from antifreeze.\n",
			"engine maker's manual",
		} {
			if strings.Count(got, want) != 1 {
				t.Errorf("%q is in it %d times, want once:\n%s", want, strings.Count(got, want), got)
			}
		}
	})
	t.Run("without a link nothing is asked", func(t *testing.T) {
		if got := note(feedView(), feed.Links{}); strings.Contains(got, "Book it") {
			t.Errorf("got:\n%s", got)
		}
	})
	t.Run("a long list of jobs leaves room for caution and link", func(t *testing.T) {
		view := feedView()
		for range 30 {
			view.Visits[2].Lines = append(view.Visits[2].Lines, schedule.Line{Title: "Zinc anode on the drive", Why: strings.Repeat("Because. ", 40)})
		}
		got := note(view, feedLinks())
		if strings.Contains(got, "Because") || !strings.Contains(got, answer) || !strings.Contains(got, "Never run") || !strings.Contains(got, " more.") {
			t.Errorf("got:\n%s", got)
		}
		if n := utf8.RuneCountInString(got); n > 600 || n < 500 {
			t.Errorf("%d characters, want about 600", n)
		}
	})
}

// A feed's identities are kept by every subscriber's client.
func TestFeedUIDStays(t *testing.T) {
	got := feed.UID("service.example.com", "B-1.lay-up.2027")
	if want := "9c7f9ea3-77d9-5a64-bb7b-c166b48a1d00"; got != want {
		t.Errorf("got %s, want %s: every subscriber would lose and refetch everything", got, want)
	}
	for _, other := range []string{feed.UID("service.example.com", "B-1.lay-up.2028"), feed.UID("example.org", "B-1.lay-up.2027")} {
		if other == got {
			t.Errorf("two events are %s", got)
		}
	}
}

func TestFeedWindow(t *testing.T) {
	for _, c := range []struct{ name, today, from, to, moved string }{
		{"first of a month", "2027-04-01", "2027-02-01", "2028-10-31", "2027-04-01"},
		{"last of it", "2027-04-30", "2027-02-01", "2028-10-31", "2027-04-01"},
		{"over the year's end", "2027-01-15", "2026-11-01", "2028-07-31", "2027-01-01"},
	} {
		t.Run(c.name, func(t *testing.T) {
			today, err := civil.Parse(c.today)
			if err != nil {
				t.Fatal(err)
			}
			from, to, moved := feed.Window(today)
			if from.String() != c.from || to.String() != c.to || moved.String() != c.moved {
				t.Errorf("got %s to %s since %s, want %+v", from, to, moved, c)
			}
		})
	}
}
