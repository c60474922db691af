package week

import (
	"context"

	"bellbuoy/schedule"
	"bellbuoy/store/report"
)

// wishLine is a customer whom the owner wants rung about a boat.
type wishLine struct {
	report.CallRequest
	Boat     schedule.Boat
	Customer schedule.Customer
}

// wishes are those that no call has answered yet. A wish about a boat that has
// changed hands since is nobody's any more.
func (s pages) wishes(ctx context.Context) ([]wishLine, error) {
	all, err := report.CallRequests(ctx, s.App.DB)
	if err != nil {
		return nil, err
	}
	var lines []wishLine
	for _, w := range all {
		l := wishLine{CallRequest: w}
		if l.Customer, err = s.App.OwnerOf(ctx, w.BoatID); err != nil {
			return nil, err
		}
		if l.Customer.ID != w.CustomerID {
			continue
		}
		if l.Boat, err = s.App.DB.Boat(ctx, w.BoatID); err != nil {
			return nil, err
		}
		lines = append(lines, l)
	}
	return lines, nil
}
