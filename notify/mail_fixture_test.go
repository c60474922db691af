package notify_test

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
)

var mailUpdate = flag.Bool("update-mail", false, "write the golden mails anew")

// day reads a test's day.
func mailDay(s string) civil.Day {
	d, err := civil.Parse(testkit.Text(s))
	if err != nil {
		panic(err)
	}
	return d
}

func mailZone(t testing.TB) *time.Location {
	t.Helper()
	z, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// at is an instant by the shop's clock: "2026-09-01 10:00".
func mailAt(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.ParseInLocation("2006-01-02 15:04", testkit.Text(s), mailZone(t))
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func mailShop(t testing.TB) notify.ShopInfo {
	return notify.ShopInfo{
		Name: "Kettle Cove Boats", Address: "4 Slip Road, Kettle Cove, ME 00000", Phone: "(207) 555-0100",
		From: "Kettle Cove Boats <service@kettlecove.example>", ReplyTo: "desk@kettlecove.example",
		Host: "kettlecove.example", Currency: "$", Zone: mailZone(t),
	}
}

var mailLinks = notify.Links{
	My: "https://kettlecove.example/my/5Kq2vQ", Stop: "https://kettlecove.example/stop/7Yh3Lw",
	StopMail: "stop+7Yh3Lw@kettlecove.example", Calendar: "https://kettlecove.example/cal/9Pz1Tc.ics",
}

func mailRenderer(t testing.TB, key *notify.DKIM) *notify.Renderer {
	t.Helper()
	texts, err := notify.English()
	if err != nil {
		t.Fatal(err)
	}
	r, err := notify.NewRenderer(mailShop(t), texts, key)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func mailBoat(id, name string, visits ...schedule.VisitView) schedule.BoatView {
	return schedule.BoatView{
		Boat:   schedule.Boat{ID: id, Name: name, Make: "Larkline", Model: "19", Year: 2018, Berth: "own-dock", SoldOn: mailDay("2025-11-15"), WarrantyUntil: mailDay("2027-05-15")},
		Place:  schedule.Place{Name: "Long Pond", Launch: civil.MonthDay{Month: 5, Day: 15}, LayUp: civil.MonthDay{Month: 10, Day: 10}},
		Visits: visits,
	}
}

// mailLayUp is a lay-up pencilled for the week of 5 October 2026, to be done by
// the 10th.
func mailLayUp(boat string) schedule.VisitView {
	return schedule.VisitView{
		Visit: schedule.Visit{
			ID: boat + ".lay-up.2026", BoatID: boat, Kind: schedule.LayUp, Season: 2026,
			Open: mailDay("2026-09-14"), Close: mailDay("2026-10-10"), Day: mailDay("2026-10-07"), Deadline: mailDay("2026-10-10"),
			Labour: 180, Price: 31000, Week: mailDay("2026-10-05").Week(),
		},
		Title: "Winter lay-up", Why: "Pencilled for the week of 5 October 2026, to be done by 10 October 2026.",
		Lines: []schedule.Line{
			{
				Item:        schedule.DueItem{BoatID: boat, Rule: "lay-up", Service: "lay-up", Season: 2026, Due: mailDay("2026-10-10"), Basis: schedule.BasisSeason, Price: 31000},
				Title:       "Winter lay-up of the engine",
				Why:         "Boats at Long Pond are laid up by 10 October 2026. Pencilled for the week of 5 October 2026.",
				Consequence: "Water left in the block freezes and cracks it.",
				Cautions:    []string{"Run the engine only with water to the intake."},
			},
			{
				Item:  schedule.DueItem{BoatID: boat, Rule: "engine-oil", Due: mailDay("2026-11-02"), Basis: schedule.BasisDate, CoveredBy: "lay-up"},
				Title: "Engine oil and filter", Why: "Last done 2 November 2025 at 188 h. Every 12 months or 100 h, whichever first: 2 November 2026.", Included: true,
				Cautions: []string{"Run the engine only with water to the intake.", "Used oil goes to the recycler."},
			},
			{
				Item:  schedule.DueItem{BoatID: boat, Rule: "co-alarm", Due: mailDay("2026-10-10"), Basis: schedule.BasisUnknown},
				Title: "CO alarm tested", Why: "No record of it is on file and nothing to count from, so it is looked at on the next visit.",
			},
		},
	}
}

func mailCustomer() schedule.Customer {
	return schedule.Customer{ID: "C1", Name: "Åsa Brännström-O’Dell", Email: "asa@mail.example", Phone: "555-0101", ContactBy: "email"}
}

func mailRecipient(boats ...schedule.BoatView) schedule.Recipient {
	return schedule.Recipient{Customer: mailCustomer(), Boats: boats}
}

// mailGolden compares with a golden file, or writes it.
func mailGolden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", "mail", name)
	if *mailUpdate {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; write it with go test ./notify -update-mail", err)
	}
	if string(got) != string(want) {
		t.Errorf("%s differs from what is rendered now; look at the change with go test ./notify -update-mail and git diff", path)
	}
}
