package store_test

import (
	"bufio"
	"context"
	"database/sql"
	"flag"
	"fmt"
	"io"
	"runtime"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/imports"
	"bellbuoy/store/report"
)

// The size of the measured fleet; the targets are set for 100000.
var boats = flag.Int("boats", 2000, "boats in the fleet that benchmarks measure")

// fleet writes the five files of a fleet with ten records a boat, line by line.
func fleet(n int) []imports.File {
	write := func(name string, lines func(io.Writer)) imports.File {
		r, w := io.Pipe()
		go func() {
			b := bufio.NewWriterSize(w, 64<<10)
			lines(b)
			w.CloseWithError(b.Flush())
		}()
		return imports.File{Name: name, R: r}
	}
	first := civil.Of(2019, time.May, 2)
	return []imports.File{
		write("customers.csv", func(w io.Writer) {
			fmt.Fprintln(w, "customer_id,name,email,phone,address,city,region,postal_code,contact_by")
			for i := range n {
				fmt.Fprintf(w, "C%06d,Owner %d,owner%d@example.org,555-01%02d,%d Cove Rd,Pine Landing,NY,12345,email\n", i, i, i, i%100, i)
			}
		}),
		write("boats.csv", func(w io.Writer) {
			fmt.Fprintln(w, "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until")
			for i := range n {
				fmt.Fprintf(w, "B%06d,C%06d,,Boat %d,Tarnmoor,Skiff 18,2019,runabout,18.5,fresh,Pine Cove,own-dock,%s,\n", i, i, i, first+civil.Day(i%2000))
			}
		}),
		write("components.csv", func(w io.Writer) {
			fmt.Fprintln(w, "component_id,boat_id,kind,label,propulsion,stroke,fuel,cooling,in_service,expires,made,family")
			for i := range n {
				fmt.Fprintf(w, "E%06d,B%06d,engine,Engine,outboard,four,gasoline,raw-water,%s,,,TM60\n", i, i, first)
				fmt.Fprintf(w, "T%06d,B%06d,trailer,Trailer,,,,,%s,,,\n", i, i, first)
			}
		}),
		write("history.csv", func(w io.Writer) {
			fmt.Fprintln(w, "boat_id,component_id,day,service,hours,amount,by,note")
			services := []string{"impeller", "engine-oil", "lay-up", "fit-out", "diagnostics"}
			for i := range n {
				for k := range 10 {
					fmt.Fprintf(w, "B%06d,E%06d,%s,%s,%d,%d.50,shop,\n", i, i, first+civil.Day(k*180+i%90), services[k%5], 20*k, 100+k)
				}
			}
		}),
		write("readings.csv", func(w io.Writer) {
			fmt.Fprintln(w, "component_id,day,hours,read_by")
			for i := range n {
				for k := range 3 {
					fmt.Fprintf(w, "E%06d,%s,%d,shop\n", i, first+civil.Day(k*365+i%90), 40*k)
				}
			}
		}),
	}
}

const rowsPerBoat = 1 + 1 + 2 + 10 + 3

// Rows taken in a second; the target is 20,000, and memory must be flat.
func BenchmarkIntake(b *testing.B) {
	for b.Loop() {
		db := open(b)
		_, err := imports.Intake(b.Context(), db, noon, fleet(*boats), known(), imports.IntakeOptions{})
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(*boats*rowsPerBoat*b.N)/b.Elapsed().Seconds(), "rows/s")
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.Sys)/(1<<20), "MB-sys")
}

// big opens a fleet with a small plan for each boat.
func big(b *testing.B) *store.DB {
	b.Helper()
	db := open(b)
	if _, err := imports.Intake(b.Context(), db, noon, fleet(*boats), known(), imports.IntakeOptions{}); err != nil {
		b.Fatal(err)
	}
	return db
}

// plansOf makes a plan of eight items and two visits for every boat.
func plansOf(b *testing.B, db *store.DB, each func([]store.NewPlan)) {
	b.Helper()
	var batch []store.NewPlan
	err := db.EachFacts(b.Context(), nil, func(f *schedule.Facts) error {
		batch = append(batch, store.NewPlan{BoatID: f.Boat.ID, Plan: samplePlan(f), Seen: 1})
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	for len(batch) > 0 {
		n := min(256, len(batch))
		each(batch[:n])
		batch = batch[n:]
	}
}

func samplePlan(f *schedule.Facts) schedule.BoatPlan {
	var p schedule.BoatPlan
	due := civil.Of(2027, time.April, 12)
	for k := range 8 {
		p.Items = append(p.Items, schedule.DueItem{BoatID: f.Boat.ID, ComponentID: "E" + f.Boat.ID[1:], Rule: fmt.Sprint("rule-", k), Service: "impeller",
			Due: due + civil.Day(k*30), Open: due - 30, Close: due + 60, Basis: schedule.BasisDate, LastDay: due - 1000, Months: 36, ByDate: due, VisitID: f.Boat.ID + ".lay-up.2027"})
	}
	p.Visits = []schedule.Visit{
		{ID: f.Boat.ID + ".lay-up.2027", BoatID: f.Boat.ID, Kind: schedule.LayUp, Season: 2027, Open: due, Close: due + 200, Day: due + 180, Deadline: due + 190, Items: []string{p.Items[0].Key(), p.Items[1].Key()}},
		{ID: f.Boat.ID + ".fit-out.2027", BoatID: f.Boat.ID, Kind: schedule.FitOut, Season: 2027, Open: due, Close: due + 30, Day: due + 10, Deadline: due + 30},
	}
	return p
}

// The facts of a whole fleet against a bare scan of the same rows.
func BenchmarkFleet(b *testing.B) {
	db := big(b)
	b.Run("bare-scan", func(b *testing.B) {
		q, err := sql.Open("sqlite", "file:"+db.Path()+"?mode=ro")
		if err != nil {
			b.Fatal(err)
		}
		defer q.Close()
		for b.Loop() {
			n := 0
			for _, t := range []string{"boats", "components", "records", "readings", "follow_ups", "overrides", "bookings", "visits"} {
				n += bareScan(b, q, t)
			}
			if n < *boats*15 {
				b.Fatalf("%d rows", n)
			}
		}
	})
	b.Run("facts", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			n := 0
			err := db.EachFacts(b.Context(), nil, func(f *schedule.Facts) error {
				n += 1 + len(f.Components) + len(f.Records) + len(f.Readings)
				return nil
			})
			if err != nil || n != *boats*(rowsPerBoat-1) {
				b.Fatal(n, err)
			}
		}
	})
}

// bareScan reads every row of a table into variables of its columns' types, as
// one would who only wanted the rows.
func bareScan(b *testing.B, q *sql.DB, table string) int {
	rows, err := q.QueryContext(b.Context(), "SELECT * FROM "+table)
	if err != nil {
		b.Fatal(err)
	}
	defer rows.Close()
	types, err := rows.ColumnTypes()
	if err != nil {
		b.Fatal(err)
	}
	dest := make([]any, len(types))
	for i, t := range types {
		switch t.DatabaseTypeName() {
		case "INTEGER":
			dest[i] = new(sql.NullInt64)
		case "REAL":
			dest[i] = new(sql.NullFloat64)
		default:
			dest[i] = new(sql.NullString)
		}
	}
	n := 0
	for rows.Next() {
		if err := rows.Scan(dest...); err != nil {
			b.Fatal(err)
		}
		n++
	}
	if err := rows.Err(); err != nil {
		b.Fatal(err)
	}
	return n
}

func BenchmarkSavePlans(b *testing.B) {
	db := big(b)
	save := func(plans []store.NewPlan) {
		if _, err := db.SavePlans(b.Context(), noon, plans); err != nil {
			b.Fatal(err)
		}
	}
	start := time.Now()
	plansOf(b, db, save)
	first := time.Since(start)
	b.Run("unchanged", func(b *testing.B) {
		var all [][]store.NewPlan
		plansOf(b, db, func(p []store.NewPlan) { all = append(all, p) })
		for b.Loop() {
			for _, p := range all {
				save(p)
			}
		}
		b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N**boats), "µs/boat")
		b.ReportMetric(float64(first.Microseconds())/float64(*boats), "µs/boat-first")
	})
	b.Run("one-change", func(b *testing.B) {
		id := fmt.Sprintf("B%06d", *boats/2)
		n := 0
		for b.Loop() {
			f, err := db.Facts(b.Context(), id)
			if err != nil {
				b.Fatal(err)
			}
			p := samplePlan(&f)
			n++
			p.Items[0].Labour = n
			save([]store.NewPlan{{BoatID: id, Plan: p, Seen: 1}})
		}
	})
	b.Run("search", func(b *testing.B) {
		for b.Loop() {
			r, err := report.Search(context.Background(), db.Reader, fmt.Sprintf("owner %d", *boats-1), 20)
			if err != nil || len(r.Hits) == 0 {
				b.Fatal(len(r.Hits), err)
			}
		}
	})
}

// What a calendar client's unchanged poll costs here.
func BenchmarkFeedState(b *testing.B) {
	db := big(b)
	for b.Loop() {
		if _, err := db.FeedState(b.Context(), store.FeedBoat, "B000001"); err != nil {
			b.Fatal(err)
		}
	}
}
