package imports_test

import (
	"bytes"
	"errors"
	"testing"

	"bellbuoy/store/imports"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

// FuzzIntakeMapped imports any table through any mapping into a shop that has some
// customers and boats, on trial. Every row is taken or returned with a reason, or the
// whole is refused.
func FuzzIntakeMapped(f *testing.F) {
	f.Add("[[sheet]]\n[sheet.columns]\n\"Owner\" = \"customer.name\"\n\"Mail\" = \"customer.email\"\n\"Boat\" = \"boat.name\"\n\"HIN\" = \"boat.hin\"\n"+
		"\"Day\" = \"work.day\"\n\"What\" = \"work.service\"\n\"Paid\" = \"work.amount\"\n\"Wrapped\" = \"done.shrink-wrap\"\n\"Hours\" = \"work.hours\"\n"+
		"[sheet.dates]\n\"Day\" = \"ymd\"\n\"Wrapped\" = \"mdy\"\n[sheet.numbers]\n\"Paid\" = \"1,234.50\"\n\"Hours\" = \"1.234,50\"\n[sheet.contains]\n\"lay-up\" = \"lay-up\"\n\"*\" = \"cleaning\"\n"+
		"[sheet.defaults]\n\"boat.kind\" = \"runabout\"\n\"boat.water\" = \"fresh\"\n\"boat.berth\" = \"own-dock\"\n\"boat.place\" = \"Pine Cove\"\n",
		[]byte("Owner,Mail,Boat,HIN,Day,What,Paid,Wrapped,Hours\nAda Reed,ada@mail.example,Heron,QXB3K7T2E616,2025-05-01,lay-up,\"1,200.50\",3/4/24,\"12,5\"\nReed Ada,,,QXB3K7T2E616,,,,,\n,,,,,,,,\nBo,x,Teal,0,2025-05-01,?,-1,13/13/24,\"1.000\"\n"))
	db := open(f)
	take(f, db, small())
	f.Fuzz(func(t *testing.T, text string, table []byte) {
		m, err := mapping.Parse([]byte(text))
		if err != nil {
			return
		}
		b, err := sheet.Open("x.csv", bytes.NewReader(table), int64(len(table)), m.SheetOptions())
		if err != nil {
			return
		}
		defer b.Close()
		rep, err := imports.IntakeMapped(ctx, db, noon, []*sheet.Book{b}, m, mapped(), imports.MappedOptions{Actor: "test", DryRun: true, AcceptGood: true, MaxFaults: 1 << 20})
		if errors.Is(err, imports.ErrIntake) || err != nil && rep.Rows == 0 {
			return
		}
		if err != nil {
			t.Fatalf("%q through %q: %v", table, text, err)
		}
		if rep.Rows != rep.Taken+rep.Returned || len(rep.Listed) != rep.Returned {
			t.Errorf("%d rows in, %d taken, %d returned, %d listed", rep.Rows, rep.Taken, rep.Returned, len(rep.Listed))
		}
		for _, r := range rep.Listed {
			if r.Reason == "" {
				t.Errorf("%s:%d came back without a reason", r.Table, r.Line)
			}
		}
	})
}
