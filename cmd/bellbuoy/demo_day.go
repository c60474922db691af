package main

import (
	"context"
	"slices"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

// demoDay is the day that the demo plays unless it is told another: the Tuesday
// two weeks before the week of its first place's winterization deadline, of the
// year whose such day is nearest. Then there is always a season to look at.
func demoDay(today civil.Day) civil.Day {
	deadline := demo.Places()[0].LayUp
	var best civil.Day
	for year := today.Year() - 1; year <= today.Year()+1; year++ {
		day := deadline.In(year).Week().Monday() - 14 + 1
		if best == 0 || max(day-today, today-day) < max(best-today, today-best) {
			best = day
		}
	}
	return best
}

// Of the visits penciled in for the demo's week, so many are booked, and so many
// customers who were reminded have replied.
const (
	demoBooked  = 8
	demoReplies = 3
)

// busyDemo books some of the week's visits and lets customers reply, so that the
// demo's day has something of everything.
func busyDemo(ctx context.Context, h *app.App, now time.Time) error {
	today := h.Day(now)
	rows, err := h.DueList(ctx, today.Week(), today)
	if err != nil {
		return err
	}
	booked, replies := 0, 0
	said := []store.NewAnswer{
		{Answer: schedule.Answer{Kind: schedule.AnswerCall, Note: "Is the trailer light fixed too? Afternoons are best."}},
		{Answer: schedule.Answer{Kind: schedule.AnswerLater, Until: today + 10, Note: "We are still on the water until the first week of October."}},
		{Answer: schedule.Answer{Kind: schedule.AnswerDecline, Note: "Not this year, thank you."}},
	}
	for i := range rows {
		v := &rows[i].Visit.Visit
		switch {
		case rows[i].Part == report.WeekPencilled && booked < demoBooked:
			b := schedule.Booking{BoatID: v.BoatID, VisitID: v.ID, Kind: v.Kind, Day: today + civil.Day(booked%4), Minute: (9 + 2*(booked/4)) * 60}
			if _, err := h.Book(ctx, now, "demo", b, nil, true); err != nil {
				return err
			}
			if booked%4 == 0 { // today's
				if err := h.AssignVisit(ctx, now, "demo", v.ID, h.Config.Weeks.Technicians[booked%7].Name); err != nil {
					return err
				}
			}
			booked++
		case rows[i].Part == report.WeekWaiting && replies < demoReplies:
			n := said[replies]
			n.CustomerID, n.BoatID, n.VisitID = rows[i].Customer.ID, v.BoatID, v.ID
			if _, err := h.Reply(ctx, now, n); err != nil {
				return err
			}
			replies++
		}
	}
	return orderDemo(ctx, h, now)
}

// orderDemo orders what the demo's next weeks need most of, and receives some.
func orderDemo(ctx context.Context, h *app.App, now time.Time) error {
	lines, err := h.PartLines(ctx, h.Day(now), 4)
	if err != nil {
		return err
	}
	slices.SortStableFunc(lines, func(a, b app.PartLine) int { return len(b.Visits) - len(a.Visits) })
	var orders []store.PartOrder
	for i, l := range lines[:min(6, len(lines))] {
		orders = append(orders, store.PartOrder{Code: l.Part.Code, Name: l.Part.Name, Unit: l.Part.Unit, Quantity: l.ToOrder,
			Supplier: []string{"Quillet Chandlery", "Umbergard Marine Parts"}[i%2], Cost: schedule.Cents(650 + 275*i), Ordered: h.Day(now) - 2})
	}
	if err := h.OrderParts(ctx, now, "demo", "demo", orders); err != nil {
		return err
	}
	for id := range min(3, len(orders)) {
		if err := h.ReceiveOrder(ctx, now, "demo", int64(id+1), h.Day(now)); err != nil {
			return err
		}
	}
	return nil
}
