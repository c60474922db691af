package main

import (
	"context"
	"math/rand/v2"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

// demoSeasons is for how many seasons, the running one included, the invented
// shop has written to its customers.
const demoSeasons = 5

// writeDemo puts the letters of past seasons on file, and what customers said,
// so that the owner's pages have something to tell of them.
func writeDemo(ctx context.Context, h *app.App, now time.Time, today civil.Day, seed uint64) error {
	if err := figures.Replay(ctx, h, today, nil); err != nil {
		return err
	}
	visits, err := demoVisits(ctx, h, today)
	if err != nil {
		return err
	}
	w := demo.Write(rand.New(rand.NewPCG(seed, 1)), visits, today)
	calls := make([]store.Call, len(w.Notes))
	for i, s := range w.Notes {
		outcome := store.CallDeclined
		if s.Booked {
			outcome = store.CallBooked
		}
		calls[i] = store.Call{
			At: s.On.At(11, 0, h.Config.Zone()), Actor: "demo", CustomerID: s.CustomerID, BoatID: s.BoatID, VisitID: s.VisitID, Outcome: outcome,
		}
	}
	return h.RecordPast(ctx, now, "demo", w.Notified, calls, w.Holdouts)
}

// demoVisits are the season visits of the last seasons whose customers mail
// reaches, with the day on which the shop did the work.
func demoVisits(ctx context.Context, h *app.App, today civil.Day) ([]demo.SeasonVisit, error) {
	tenures, err := report.Tenures(ctx, h.DB)
	if err != nil {
		return nil, err
	}
	holders := make(map[string][]*report.Tenure) // of a boat
	for i := range tenures {
		holders[tenures[i].Boat.ID] = append(holders[tenures[i].Boat.ID], &tenures[i])
	}
	reached := make(map[string]bool)
	customers, err := h.DB.Customers(ctx, "", len(tenures)) // nobody here has no boat
	for _, c := range customers {
		reached[c.ID] = c.ContactBy == "email" && c.Email != ""
	}
	if err != nil {
		return nil, err
	}
	var all []demo.SeasonVisit
	season := returns.SeasonOf(today)
	for range demoSeasons {
		kind := figures.SeasonKind(season)
		due, err := report.SeasonOutlook(ctx, h.DB, season.First(), kind, season.Year)
		if err != nil {
			return nil, err
		}
		done, err := report.DoneDays(ctx, h.DB, kind, season.First(), min(today, season.Last()))
		if err != nil {
			return nil, err
		}
		came := make(map[string]civil.Day)
		for _, d := range done {
			if d.By == schedule.ByShop && came[d.BoatID] == 0 {
				came[d.BoatID] = d.Day
			}
		}
		for _, v := range due {
			x := demo.SeasonVisit{BoatID: v.BoatID, VisitID: v.VisitID, Kind: kind, Day: v.Day, Came: came[v.BoatID], Open: season.Last() >= today && came[v.BoatID] == 0}
			for _, t := range holders[v.BoatID] {
				if t.From <= season.First() && (t.To == 0 || t.To > season.First()) {
					x.CustomerID = t.Customer.ID
				}
			}
			if reached[x.CustomerID] {
				all = append(all, x)
			}
		}
		season = returns.SeasonOf(season.First() - 1)
	}
	return all, nil
}
