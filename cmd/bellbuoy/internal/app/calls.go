package app

import (
	"context"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

// CallRow is a customer to call, with what the desk needs beside the visits that
// the call is about.
type CallRow struct {
	notify.Call
	Rows    []report.WeekRow // of the call's visits, in their order
	Earlier []store.Call     // the newest first
}

// callsBatch is how many customers are looked at at once: a query's list of ids
// stays short.
const callsBatch = 200

// Calls asks the policy about customers, in the order of their ids: those whom it
// wants called. Their visits are read from the stored plans without the reasons of
// each job, so that a long list is quick.
func (a *App) Calls(ctx context.Context, now time.Time, ids []string) ([]CallRow, error) {
	var out []CallRow
	for len(ids) > 0 {
		n := min(len(ids), callsBatch)
		rows, err := a.callsOf(ctx, now, ids[:n])
		if err != nil {
			return nil, err
		}
		out, ids = append(out, rows...), ids[n:]
	}
	return out, nil
}

func (a *App) callsOf(ctx context.Context, now time.Time, ids []string) ([]CallRow, error) {
	owners, err := report.VisitsOf(ctx, a.DB, ids)
	if err != nil {
		return nil, err
	}
	customers := make([]schedule.Customer, len(owners))
	for i := range owners {
		customers[i] = owners[i].Customer
	}
	contacts, err := a.contacts(ctx, customers)
	if err != nil {
		return nil, err
	}
	earlier, err := a.DB.CallsOf(ctx, ids, 20)
	if err != nil {
		return nil, err
	}
	var out []CallRow
	for i := range contacts {
		r := &contacts[i]
		byVisit := make(map[string]report.WeekRow)
		for _, row := range owners[i].Visits {
			byVisit[row.Visit.ID] = row
			n := len(r.Boats) - 1
			if n < 0 || r.Boats[n].Boat.ID != row.Boat.ID {
				r.Boats = append(r.Boats, schedule.BoatView{Boat: row.Boat, Place: a.Config.Place(row.Boat.Place)})
				n++
			}
			r.Boats[n].Visits = append(r.Boats[n].Visits, schedule.VisitView{Visit: row.Visit, Title: schedule.VisitTitle(row.Visit.Kind)})
		}
		for _, c := range notify.CallList(*r, a.Policy(), now) {
			call := CallRow{Call: c, Earlier: earlier[c.Customer.ID]}
			for _, v := range c.Visits {
				call.Rows = append(call.Rows, byVisit[v.Visit.Visit.ID])
			}
			out = append(out, call)
		}
	}
	return out, nil
}
