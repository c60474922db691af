package columns_test

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/imports/columns"
)

// again writes a row and reads it back.
func again[R any](t *rapid.T, f *columns.File[R], row R, own ...string) {
	shop := &columns.Shop{Today: civil.Of(2026, 11, 25), Fault: func(file string, line int, field, what string) {
		t.Fatalf("%s:%d: %s: %s", file, line, field, what)
	}}
	l := &columns.Line{Shop: shop, File: f.Name, No: 1}
	layout, _ := f.Bind(l, f.Header(own...))
	var back R
	layout.Read(l, f.Cells(&row, own...), &back)
	if diff := cmp.Diff(row, back); diff != "" {
		t.Fatal(diff)
	}
	f.Check(l, &back)
	if diff := cmp.Diff(row, back); diff != "" {
		t.Fatalf("checked as a typed row: %s", diff)
	}
}

// What is written comes in again as it was.
func TestRowsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`([a-z,";]([a-zÖ,";= \n]*[a-z,";=])?)?`)
		id := rapid.StringMatching(`[A-Z][0-9]{1,4}`)
		days := rapid.Map(rapid.IntRange(0, 3000), func(n int) civil.Day {
			if n == 0 {
				return 0
			}
			return civil.Of(2015, 1, 1) + civil.Day(n)
		})
		past := rapid.Map(rapid.IntRange(0, 4000), func(n int) civil.Day { return civil.Of(2015, 1, 1) + civil.Day(n) })
		some := func(list []string) string { return rapid.SampledFrom(append([]string{""}, list...)).Draw(t, "word") }
		again(t, &columns.Customers, schedule.Customer{ID: id.Draw(t, "id"), Name: text.Draw(t, "name"), Email: text.Draw(t, "email"), Phone: text.Draw(t, "phone"),
			Address: text.Draw(t, "address"), City: text.Draw(t, "city"), Region: text.Draw(t, "region"), PostalCode: text.Draw(t, "postal"), ContactBy: some(schedule.ContactWays)})
		b := columns.Boat{CustomerID: id.Draw(t, "customer"), Origin: some([]string{columns.OriginSold, columns.OriginService}), Winter: some([]string{"yes", "no"})}
		b.Boat = schedule.Boat{ID: id.Draw(t, "id"), Name: text.Draw(t, "name"), Make: text.Draw(t, "make"), Model: text.Draw(t, "model"), Place: "Cove",
			Kind: rapid.SampledFrom(schedule.BoatKinds).Draw(t, "kind"), Water: "salt", Berth: "own-dock", SoldOn: days.Draw(t, "sold"), WarrantyUntil: days.Draw(t, "warranty"),
			LengthFt: float64(rapid.IntRange(0, 99900).Draw(t, "length")) / 100, Year: rapid.SampledFrom([]int{0, 1850, 1999, 2028}).Draw(t, "year")}
		again(t, &columns.Boats, b)
		p := schedule.Component{ID: id.Draw(t, "id"), BoatID: id.Draw(t, "boat"), Kind: "engine", Label: text.Draw(t, "label"), InService: past.Draw(t, "since"),
			Expires: days.Draw(t, "expires"), Made: days.Draw(t, "made"), Duty: rapid.IntRange(1, 1000).Draw(t, "duty")}
		p.Attr = schedule.Attr{Propulsion: some(schedule.Propulsions), Stroke: some(schedule.Strokes), Fuel: some(schedule.Fuels), Cooling: some(schedule.Coolings),
			Family: text.Draw(t, "family"), Extra: rapid.SampledFrom([]string{"", "brakes=disc", "brakes=disc;tyres=two"}).Draw(t, "extra")}
		again(t, &columns.Components, p, "brakes", "tyres")
		has := rapid.Bool().Draw(t, "has hours")
		r := schedule.Record{ID: id.Draw(t, "id"), BoatID: id.Draw(t, "boat"), ComponentID: id.Draw(t, "part"), Day: past.Draw(t, "day"), Service: "impeller",
			Amount: schedule.Cents(rapid.IntRange(-100, 100000).Draw(t, "amount")), By: "shop", Note: text.Draw(t, "note"), HasHours: has}
		if has {
			r.Hours = schedule.Hours(rapid.IntRange(0, 99999).Draw(t, "hours"))
		}
		again(t, &columns.History, r)
		again(t, &columns.Readings, columns.Reading{HasHours: true, Reading: schedule.Reading{ComponentID: id.Draw(t, "part"), Day: past.Draw(t, "day"),
			Hours: schedule.Hours(rapid.IntRange(0, 99999).Draw(t, "hours")), ReadBy: text.Draw(t, "by"), NewMeter: rapid.Bool().Draw(t, "new")}})
	})
}

// The five files come in the order in which they refer to each other.
func TestNames(t *testing.T) {
	if got := fmt.Sprint(columns.Names()); got != "[customers.csv boats.csv components.csv history.csv readings.csv]" {
		t.Error(got)
	}
}
