package schedule_test

import (
	"testing"

	"bellbuoy/schedule"
)

// checked is a rule of months that the law asks for.
const checked = small + `
[[rule]]
code = "gas-check"
title = "Gas system check"
component = "engine"
every = { months = 24 }
early_days = 60
grace_days = 0
labor = 30
price = 60.00
legal = true
`

// beforeSale is a record of the work before a sale.
func beforeSale(day, service string) schedule.Record {
	r := did(day, service, "", "")
	r.By = schedule.ByBeforeSale
	return r
}

// TestWorkedReconditioned: the work before a sale vouches for the jobs that it
// names. Only where somebody said that the boat was reconditioned throughout do
// the others count from the sale, and never what a law or a printed day sets.
// Sold on 1 May 2026, with nothing else on record.
func TestWorkedReconditioned(t *testing.T) {
	used := schedule.Component{ID: "E1", BoatID: "B1", Kind: "engine", Attr: engine("E1").Attr}
	since2016 := used
	since2016.InService = d("2016-05-14")
	old := schedule.Component{ID: "X", BoatID: "B1", Kind: "extinguisher"}
	throughout := beforeSale("2026-04-28", "reconditioned-throughout")
	for _, c := range []struct {
		name, because string
		engine        schedule.Component
		records       []schedule.Record
		comp, rule    string
		due           string
		basis         schedule.Basis
	}{
		{"a remark", "a remark is no work", used, []schedule.Record{beforeSale("2026-04-28", "remark")},
			"E1", "impeller", "2026-10-10", schedule.BasisUnknown},
		{"one job named", "the oil was changed, and nobody speaks of the impeller", used, []schedule.Record{beforeSale("2026-04-28", "engine-oil")},
			"E1", "impeller", "2026-10-10", schedule.BasisUnknown},
		{"the job named", "12 months from its day", used, []schedule.Record{beforeSale("2026-04-28", "engine-oil")},
			"E1", "engine-oil", "2027-04-28", schedule.BasisDate},
		{"work before the sale, in general", "it does not say that everything was done", used, []schedule.Record{beforeSale("2026-04-28", "reconditioning")},
			"E1", "impeller", "2026-10-10", schedule.BasisUnknown},
		{"throughout", "36 months from the sale", used, []schedule.Record{throughout},
			"E1", "impeller", "2029-05-01", schedule.BasisDate},
		{"throughout, and the job named", "its own day is the nearer witness", used, []schedule.Record{throughout, beforeSale("2026-04-20", "impeller")},
			"E1", "impeller", "2029-04-20", schedule.BasisDate},
		{"throughout, in service since 2016", "36 months from 2016 were over at the sale, so it counts from the sale", since2016, []schedule.Record{throughout},
			"E1", "impeller", "2029-05-01", schedule.BasisDate},
		{"in service since 2016, one job named", "nobody says what became of the impeller of 2016", since2016, []schedule.Record{beforeSale("2026-04-28", "engine-oil")},
			"E1", "impeller", "2026-10-10", schedule.BasisUnknown},
		{"what the law asks for", "a shop's word is no certificate", used, []schedule.Record{throughout},
			"E1", "gas-check", "2026-10-10", schedule.BasisUnknown},
		{"what is printed on it", "reconditioning makes no new extinguisher", used, []schedule.Record{throughout},
			"X", "extinguisher", "2026-10-10", schedule.BasisUnknown},
		{"throughout, before an earlier sale", "2022 was another sale, and another owner since", used, []schedule.Record{beforeSale("2022-04-28", "reconditioned-throughout")},
			"E1", "impeller", "2026-10-10", schedule.BasisUnknown},
		{"throughout, elsewhere", "hearsay vouches for no boat", used, []schedule.Record{{ID: "1", BoatID: "B1", Day: d("2026-04-28"), Service: "reconditioned-throughout", By: schedule.ByElsewhere}},
			"E1", "impeller", "2026-10-10", schedule.BasisUnknown},
		{"throughout, recorded by the shop in stock", "the shop's own record says so too", used, []schedule.Record{did("2026-04-28", "reconditioned-throughout", "", "")},
			"E1", "impeller", "2029-05-01", schedule.BasisDate},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := facts(c.engine, old)
			f.Boat.SoldOn, f.Records = d("2026-05-01"), c.records
			it := find(t, planner(t, checked).Plan(f, d("2026-06-15")), c.comp, c.rule)
			if it.Due != d(c.due) || it.Basis != c.basis {
				t.Errorf("due %s by %s, want %s by %s: %s", it.Due, it.Basis, c.due, c.basis, c.because)
			}
		})
	}
}
