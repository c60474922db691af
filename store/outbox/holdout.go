package outbox

import (
	"context"
	"database/sql"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

const drawColumns = "customer_id, boat_id, visit_id, on_day, held, percent"

func readHoldout(c *kernel.Row) schedule.Holdout {
	return schedule.Holdout{CustomerID: c.Text(0), BoatID: c.Text(1), VisitID: c.Text(2), On: c.Day(3), Held: c.Bool(4), Percent: int(c.Int(5))}
}

// SaveHoldouts writes down which nudges were held back and which went out. The
// first draw of a customer's visit stands; a later one is passed over.
func SaveHoldouts(ctx context.Context, db *store.DB, draws []schedule.Holdout) error {
	if len(draws) == 0 {
		return nil
	}
	return db.Tx(ctx, func(tx *sql.Tx) error {
		p := kernel.NewPrepared(tx)
		defer p.Close()
		for i := range draws {
			d := &draws[i]
			_, err := p.ExecContext(ctx, "INSERT INTO draws ("+drawColumns+`) SELECT ?1, ?2, ?3, ?4, ?5, ?6
				WHERE NOT EXISTS (SELECT 1 FROM draws WHERE customer_id = ?1 AND visit_id = ?3)`,
				d.CustomerID, d.BoatID, d.VisitID, d.On.String(), kernel.BoolArg(d.Held), d.Percent)
			if err != nil {
				return fmt.Errorf("write down the draw of visit %q: %w", d.VisitID, err)
			}
		}
		return nil
	})
}

// Holdouts returns the draws of these customers, by customer and in order of day;
// ids nil means all.
func Holdouts(ctx context.Context, db *store.Reader, customerIDs []string) (map[string][]schedule.Holdout, error) {
	all, err := kernel.Collect(ctx, db.Read, readHoldout, "SELECT "+drawColumns+" FROM draws WHERE "+kernel.AmongCustomers(customerIDs)+" ORDER BY customer_id, on_day, id", kernel.IDList(customerIDs))
	if err != nil {
		return nil, fmt.Errorf("read the draws of nudges: %w", err)
	}
	by := make(map[string][]schedule.Holdout)
	for _, d := range all {
		by[d.CustomerID] = append(by[d.CustomerID], d)
	}
	return by, nil
}
