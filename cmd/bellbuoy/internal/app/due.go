package app

import (
	"context"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/report"
)

// DueWeek reads the due list of a week from the stored plans, part by part: the
// page shows it as it is, the command with every job in words. The query's Ahead
// and Guarded are the shop's.
func (a *App) DueWeek(ctx context.Context, q report.WeekQuery) ([]report.WeekSection, error) {
	q.Ahead = a.Config.Reminders.InvitationDays / 7
	rules := a.Planner.Catalogue().Rules
	for i := range rules {
		if rules[i].Guards() {
			q.Guarded = append(q.Guarded, rules[i].Code)
		}
		if rules[i].Safety {
			q.Safety = append(q.Safety, rules[i].Code)
		}
		if rules[i].Legal || rules[i].Expiry != nil {
			q.Legal = append(q.Legal, rules[i].Code)
		}
	}
	return report.WeekOverview(ctx, a.DB, q)
}

// DueRow is one line of a week's due list in words: one visit of one boat, or
// what the owner himself must see to. A visit may stand in several parts.
type DueRow struct {
	Part     report.WeekPart
	Boat     schedule.Boat
	Customer schedule.Customer // the present owner, empty if the boat has none
	NoMail   string            // why mail does not reach the owner, "" if it does
	Visit    schedule.VisitView
}

// DueList is the whole due list of a week in words.
func (a *App) DueList(ctx context.Context, week civil.Week, today civil.Day) ([]DueRow, error) {
	sections, err := a.DueWeek(ctx, report.WeekQuery{Week: week, Today: today, Limit: everyBoat})
	if err != nil {
		return nil, err
	}
	views := make(map[string]schedule.BoatView)
	var rows []DueRow
	for _, sec := range sections {
		for i := range sec.Rows {
			r := &sec.Rows[i]
			view, ok := views[r.Boat.ID]
			if !ok {
				if view, err = a.View(ctx, r.Boat.ID); err != nil {
					return nil, err
				}
				views[r.Boat.ID] = view
			}
			rows = append(rows, DueRow{sec.Part, r.Boat, r.Owner, r.NoMail, dueVisit(&view, r, today)})
		}
	}
	return rows, nil
}

// dueVisit is a row's visit in words; for the owner's own jobs one of those alone.
func dueVisit(view *schedule.BoatView, r *report.WeekRow, today civil.Day) schedule.VisitView {
	for _, v := range view.Visits {
		if v.Visit.ID == r.Visit.ID {
			return v
		}
	}
	own := schedule.VisitView{Title: OwnersJobs, Visit: r.Visit}
	if r.Visit.Deadline < today {
		own.Title += ", overdue"
	}
	for _, l := range view.Loose {
		if slices.ContainsFunc(r.Jobs, func(j report.WeekJob) bool {
			return l.Item.ByCustomer && l.Item.Rule == j.Rule && l.Item.Due == j.Due
		}) {
			own.Lines = append(own.Lines, l)
		}
	}
	return own
}

// OwnersJobs is the title of what a boat's owner sees to himself.
const OwnersJobs = "For the owner"
