package tables

import (
	"context"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// ItemColumns are every field of a due item; key is first made of some of them.
const ItemColumns = "boat_id, component_id, rule, service, season, due, open_day, close_day, basis, last_day, last_by, last_via, last_hours, " +
	"starts_from, months, hours, by_date, by_hours, hours_median, hours_late, hours_at, duty, overridden, by_customer, labour, price, visit_id, in_winter, missed_last, covered_by"

// ItemWidth is the number of itemColumns.
const ItemWidth = 30

// ReadItem reads a row of [ItemColumns].
func ReadItem(c *kernel.Row) schedule.DueItem {
	return schedule.DueItem{
		BoatID: c.Text(0), ComponentID: c.Text(1), Rule: c.Text(2), Service: c.Text(3), Season: int(c.Int(4)),
		Due: c.Day(5), Open: c.Day(6), Close: c.Day(7), Basis: schedule.Basis(c.Text(8)),
		LastDay: c.Day(9), LastBy: c.Text(10), LastVia: c.Text(11), LastHours: c.Hours(12), HasLastHours: !c.Null(12),
		StartsFrom: c.Text(13), Months: int(c.Int(14)), Hours: c.Hours(15), ByDate: c.Day(16), ByHours: c.Day(17),
		HoursMedian: c.Day(18), HoursLate: c.Day(19), HoursAt: c.Hours(20), Duty: int(c.Int(21)), Overridden: c.Text(22),
		ByCustomer: c.Bool(23), Labour: int(c.Int(24)), Price: c.Cents(25), VisitID: c.Text(26),
		InWinter: c.Bool(27), MissedLast: c.Bool(28), CoveredBy: c.Text(29),
	}
}

// InsertItem writes a due item of a boat.
func InsertItem(ctx context.Context, q kernel.Querier, boatID string, it *schedule.DueItem) error {
	_, err := q.ExecContext(ctx, "INSERT INTO due_items (key, "+ItemColumns+`)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		it.Key(), boatID, it.ComponentID, it.Rule, it.Service, it.Season, kernel.DayArg(it.Due), kernel.DayArg(it.Open), kernel.DayArg(it.Close),
		string(it.Basis), kernel.DayArg(it.LastDay), it.LastBy, it.LastVia, HoursArg(it.LastHours, it.HasLastHours),
		it.StartsFrom, it.Months, int64(it.Hours), kernel.DayArg(it.ByDate), kernel.DayArg(it.ByHours), kernel.DayArg(it.HoursMedian),
		kernel.DayArg(it.HoursLate), int64(it.HoursAt), it.Duty, it.Overridden, kernel.BoolArg(it.ByCustomer), it.Labour, int64(it.Price), it.VisitID,
		kernel.BoolArg(it.InWinter), kernel.BoolArg(it.MissedLast), it.CoveredBy)
	return err
}
