package store

import (
	"context"

	"bellbuoy/schedule"
)

// itemColumns are every field of a due item; key is first made of some of them.
const itemColumns = "boat_id, component_id, rule, service, season, due, open_day, close_day, basis, last_day, last_by, last_via, last_hours, " +
	"starts_from, months, hours, by_date, by_hours, hours_median, hours_late, hours_at, duty, overridden, by_customer, labour, price, visit_id, in_winter, missed_last, covered_by"

// itemWidth is the number of itemColumns.
const itemWidth = 30

func readItem(c *cells) schedule.DueItem {
	return schedule.DueItem{
		BoatID: c.text(0), ComponentID: c.text(1), Rule: c.text(2), Service: c.text(3), Season: int(c.int(4)),
		Due: c.day(5), Open: c.day(6), Close: c.day(7), Basis: schedule.Basis(c.text(8)),
		LastDay: c.day(9), LastBy: c.text(10), LastVia: c.text(11), LastHours: c.hours(12), HasLastHours: !c.null(12),
		StartsFrom: c.text(13), Months: int(c.int(14)), Hours: c.hours(15), ByDate: c.day(16), ByHours: c.day(17),
		HoursMedian: c.day(18), HoursLate: c.day(19), HoursAt: c.hours(20), Duty: int(c.int(21)), Overridden: c.text(22),
		ByCustomer: c.bool(23), Labour: int(c.int(24)), Price: c.cents(25), VisitID: c.text(26),
		InWinter: c.bool(27), MissedLast: c.bool(28), CoveredBy: c.text(29),
	}
}

func insertItem(ctx context.Context, q querier, boatID string, it *schedule.DueItem) error {
	_, err := q.ExecContext(ctx, "INSERT INTO due_items (key, "+itemColumns+`)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		it.Key(), boatID, it.ComponentID, it.Rule, it.Service, it.Season, dayArg(it.Due), dayArg(it.Open), dayArg(it.Close),
		string(it.Basis), dayArg(it.LastDay), it.LastBy, it.LastVia, hoursArg(it.LastHours, it.HasLastHours),
		it.StartsFrom, it.Months, int64(it.Hours), dayArg(it.ByDate), dayArg(it.ByHours), dayArg(it.HoursMedian),
		dayArg(it.HoursLate), int64(it.HoursAt), it.Duty, it.Overridden, boolArg(it.ByCustomer), it.Labour, int64(it.Price), it.VisitID,
		boolArg(it.InWinter), boolArg(it.MissedLast), it.CoveredBy)
	return err
}
