package main

import (
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store/report"
)

func dueCommand(a *cli) *cobra.Command {
	var weekFlag string
	var batteries bool
	c := &cobra.Command{
		Use:   "due",
		Short: "This week's due list: overdue, booked, penciled in, due, waiting for a reply",
		Long: `Prints what the desk's first page shows, with every job's reason. The ids of boats and
visits in it are those that the other commands take. An estimate is called one; the
engine maker's manual, local codes and a licensed technician come first.`,
		Example: `  bellbuoy due
  bellbuoy due --week 2026-W40
  bellbuoy due --batteries`,
		Args: cobra.NoArgs,
		RunE: a.withPlan(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			today := civil.FromTime(now)
			week := today.Week()
			if weekFlag != "" {
				w, err := civil.ParseWeek(weekFlag)
				if err != nil {
					return usagef("--week: %w", err)
				}
				week = w
			}
			rows, err := h.DueList(c.Context(), week, today)
			if err != nil {
				return err
			}
			charges, err := h.Charges(c.Context(), week, today)
			if err != nil {
				return err
			}
			switch {
			case a.asJSON:
				return a.printJSON(dueJSON(week, today, rows, charges))
			case batteries:
				a.printCharges(charges)
			default:
				a.printDue(week, today, rows)
				boats, err := h.ChargeBoats(c.Context(), week, today)
				if err != nil {
					return err
				}
				if boats > 0 {
					a.printf("\nCharge batteries: %s\n", words.Count(boats, "boat"))
				}
			}
			a.printf("\n%s\n", manualFirst)
			return nil
		}),
	}
	c.Flags().StringVar(&weekFlag, "week", "", "show this `week` (YYYY-Www) instead of the present one")
	c.Flags().BoolVar(&batteries, "batteries", false, "list the batteries in storage to charge, by where the boat is stored")
	return c
}

// printCharges lists batteries in storage by place in the yard.
func (a *cli) printCharges(charges []app.Charge) {
	if len(charges) == 0 {
		a.printf("No battery in storage has to be charged that week.\n")
	}
	last := ""
	for i := range charges {
		ch := &charges[i]
		if ch.Boat.Berth != last {
			last = ch.Boat.Berth
			a.printf("%s\n", last)
		}
		a.printf("%s  %s (%s), %s (%s): %s\n", ch.Item.Due, ch.Boat.Title(), ch.Boat.ID, ch.Label, ch.Item.ComponentID, ch.Rule.Title)
	}
}

// dueWeek is what "due --json" prints. Days are YYYY-MM-DD, weeks YYYY-Www,
// labour in minutes, prices decimal in the shop's currency.
type dueWeek struct {
	Week  civil.Week   `json:"week"`
	Today civil.Day    `json:"today"`
	Rows  []dueRowJSON `json:"rows"`
	// Batteries in storage to charge, in order of the place in the yard.
	Batteries []chargeJSON `json:"batteries"`
}

type chargeJSON struct {
	BoatID    string    `json:"boat_id"`
	Boat      string    `json:"boat"`
	Berth     string    `json:"berth"`
	Component string    `json:"component_id"`
	Label     string    `json:"label"`
	Rule      string    `json:"rule"`
	Due       civil.Day `json:"due"`
}

type dueRowJSON struct {
	Stands     string    `json:"status"` // the part of the list; a visit may stand in several
	BoatID     string    `json:"boat_id"`
	Boat       string    `json:"boat"`
	CustomerID string    `json:"customer_id"`
	Customer   string    `json:"customer"`
	Phone      string    `json:"phone"`
	NoMail     string    `json:"no_email"` // why mail does not reach the customer, "" if it does
	Visit      visitJSON `json:"visit"`
}

func dueJSON(week civil.Week, today civil.Day, rows []app.DueRow, charges []app.Charge) dueWeek {
	out := dueWeek{Week: week, Today: today, Rows: []dueRowJSON{}, Batteries: []chargeJSON{}}
	for i := range charges {
		ch := &charges[i]
		out.Batteries = append(out.Batteries, chargeJSON{
			BoatID: ch.Boat.ID, Boat: ch.Boat.Title(), Berth: ch.Boat.Berth,
			Component: ch.Item.ComponentID, Label: ch.Label, Rule: ch.Item.Rule, Due: ch.Item.Due,
		})
	}
	for i := range rows {
		r := &rows[i]
		out.Rows = append(out.Rows, dueRowJSON{
			Stands: string(r.Part), BoatID: r.Boat.ID, Boat: r.Boat.Title(),
			CustomerID: r.Customer.ID, Customer: r.Customer.Name, Phone: r.Customer.Phone, NoMail: r.NoMail,
			Visit: visitAsJSON(&r.Visit),
		})
	}
	return out
}

// headings words the sections of the due list.
var headings = map[report.WeekPart]string{
	report.WeekOverdue:     "OVERDUE",
	report.WeekDayPassed:   "DAY PASSED, NO WORK RECORDED",
	report.WeekHere:        "STILL WITH US",
	report.WeekBooked:      "BOOKED THIS WEEK",
	report.WeekPencilled:   "PENCILED IN THIS WEEK",
	report.WeekDue:         "DUE THIS WEEK",
	report.WeekWaiting:     "WAITING FOR A REPLY",
	report.WeekUnreachable: "CANNOT BE REACHED BY EMAIL",
	report.WeekLapsed:      "LAPSED",
	report.WeekOwner:       "FOR THE OWNER TO DO",
}

func (a *cli) printDue(week civil.Week, today civil.Day, rows []app.DueRow) {
	a.printf("Week %s, %s to %s: %s\n", week, a.format.Date(week.Monday()), a.format.Date(week.Sunday()), words.Count(len(rows), "entry"))
	last := report.WeekPart("")
	listed := make(map[string]bool) // whose jobs stand in a part above
	for i := range rows {
		r := &rows[i]
		if r.Part != last {
			last = r.Part
			a.printf("\n%s\n", headings[last])
		}
		v := &r.Visit
		a.printf("%s  %s (%s), %s %s\n", v.Visit.Deadline, r.Boat.Title(), r.Boat.ID, ownerName(&r.Customer), r.Customer.Phone)
		a.printf("            %s%s\n", v.Title, a.visitFacts(&v.Visit))
		if r.NoMail != "" && r.Part == report.WeekUnreachable {
			a.printf("            Email: %s.\n", r.NoMail)
		}
		if v.WeekWhy != "" {
			a.printf("            %s\n", v.WeekWhy)
		}
		if day := v.Visit.DayPassed(today); day != 0 && r.Part != report.WeekHere {
			a.printf("            Was booked for %s; no work is recorded.\n", a.format.Date(day))
		}
		if listed[v.Visit.ID] {
			continue
		}
		for _, l := range v.Lines {
			a.printf("            - %s. %s\n", l.Title, l.Why)
		}
		listed[v.Visit.ID] = v.Visit.ID != ""
	}
}

func ownerName(c *schedule.Customer) string {
	if c.Name == "" {
		return "no owner on file"
	}
	return c.Name
}

// visitFacts words the size of a visit: ": 2.5 h, about $410.00".
func (a *cli) visitFacts(v *schedule.Visit) string {
	var parts []string
	if v.Labour > 0 {
		parts = append(parts, a.format.Labor(v.Labour)+" h")
	}
	if v.Price > 0 {
		parts = append(parts, "about "+a.format.WholeMoney(v.Price))
	}
	if len(parts) == 0 {
		return ""
	}
	return ": " + strings.Join(parts, ", ")
}
