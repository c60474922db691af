package mapping_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

var update = flag.Bool("update", false, "write the golden files anew")

func book(t testing.TB, name string, data []byte) *sheet.Book {
	t.Helper()
	b, err := sheet.Open(name, bytes.NewReader(data), int64(len(data)), sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func options() mapping.ProposeOptions {
	return mapping.ProposeOptions{Today: today, Places: []string{"Lindrake Cove", "Pine Cove"}, Services: []mapping.Service{
		{Code: "impeller", Title: "Water pump impeller"}, {Code: "lay-up", Title: "Winterization"}, {Code: "fit-out", Title: "Spring commissioning"},
		{Code: "engine-oil", Title: "Engine oil"}, {Code: "shrink-wrap", Title: "Shrink wrap"},
	}}
}

// Each table's draft stands beside it; the evidence in its comments and every
// open question are part of it.
func TestPropose(t *testing.T) {
	files, err := filepath.Glob("testdata/propose/*.csv")
	if err != nil || len(files) == 0 {
		t.Fatal("no tables", err)
	}
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			got, err := mapping.Propose([]*sheet.Book{book(t, filepath.Base(path), data)}, options())
			if err != nil {
				t.Fatal(err)
			}
			if _, err := mapping.Parse([]byte(got)); err != nil {
				t.Errorf("the draft cannot be read: %v", err)
			}
			golden := strings.TrimSuffix(path, ".csv") + ".toml"
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("-want +got:\n%s", diff)
			}
		})
	}
}

func TestParseRefuses(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"not TOML", "a = ", "line 1"},
		{"unknown setting", "colour = 1\n[[sheet]]\nname = \"x\"", `line 1: unknown setting "colour"`},
		{"no sheet", `phone_region = "US"`, "no [[sheet]]"},
		{"unknown field", "[[sheet]]\n[sheet.columns]\n\"A\" = \"boat.colour\"", `"boat.colour" is no field`},
		{"unknown order", "[[sheet]]\n[sheet.dates]\n\"A\" = \"dym\"", "want one of mdy"},
		{"unknown style", "[[sheet]]\n[sheet.numbers]\n\"A\" = \"12\"", "want one of 1234.50"},
		{"words of a field that takes any", "[[sheet]]\n[sheet.words.\"boat.name\"]\n\"A\" = \"b\"", "takes one word"},
		{"default of no field", "[[sheet]]\n[sheet.defaults]\n\"boat.colour\" = \"b\"", "is no field"},
		{"unknown country", "phone_region = \"us of a\"\n[[sheet]]", "two capital letters"},
		{"header above the first row", "[[sheet]]\nheader = -1", "count from 1"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := mapping.Parse([]byte(tt.text)); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want %q in it", err, tt.want)
			}
		})
	}
}

// A header that does not fit the mapping is an error before any row is read.
func TestReadRefusesAnotherHeader(t *testing.T) {
	m, err := mapping.Parse([]byte("[[sheet]]\n[sheet.columns]\n\"Owner\" = \"customer.name\"\n\"Sold\" = \"boat.sold_on\"\n\"Paid\" = \"work.amount\"\n\"Bottom\" = \"done.bottom-paint\"\n[sheet.dates]\n\"Bottom\" = \"mdy\""))
	if err != nil {
		t.Fatal(err)
	}
	err = m.Read(book(t, "x.csv", []byte("Owner,Sold,Extra,Bottom\na,b,c,d\n")), mapping.Options{Today: today, Services: []string{"lay-up"}}, func(*mapping.Line) error {
		t.Error("a row was read")
		return nil
	})
	for _, want := range []string{`"Extra" is not in the mapping`, `no column "Paid"`, `"Sold": the mapping does not say in which order`, `no rule knows the service "bottom-paint"`} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %q in it", err, want)
		}
	}
}

// Whatever stands in mapping and table, reading ends with an error or gives
// every row a fate.
func FuzzRead(f *testing.F) {
	drafts, err := filepath.Glob("testdata/propose/*.toml")
	if err != nil || len(drafts) == 0 {
		f.Fatal("no seeds", err)
	}
	for _, path := range drafts {
		draft, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		table, err := os.ReadFile(strings.TrimSuffix(path, ".toml") + ".csv")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(draft), table)
	}
	f.Fuzz(func(t *testing.T, text string, table []byte) {
		m, err := mapping.Parse([]byte(text))
		if err != nil {
			return
		}
		b, err := sheet.Open("x.csv", bytes.NewReader(table), int64(len(table)), m.SheetOptions())
		if err != nil {
			return
		}
		err = m.Read(b, mapping.Options{Today: today}, func(l *mapping.Line) error {
			if len(l.Faults) == 0 && !l.KnowsBoat() && !l.KnowsCustomer() {
				return fmt.Errorf("row %d says nothing and has no fault", l.Row.Line)
			}
			return nil
		})
		if err != nil && strings.Contains(err.Error(), "says nothing") {
			t.Error(err)
		}
	})
}

// A draft of any table can be read, and asks or knows.
func FuzzPropose(f *testing.F) {
	tables, err := filepath.Glob("testdata/propose/*.csv")
	if err != nil || len(tables) == 0 {
		f.Fatal("no seeds", err)
	}
	for _, path := range tables {
		table, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(table)
	}
	f.Fuzz(func(t *testing.T, table []byte) {
		b, err := sheet.Open("x.csv", bytes.NewReader(table), int64(len(table)), sheet.Options{})
		if err != nil {
			return
		}
		text, err := mapping.Propose([]*sheet.Book{b}, options())
		if err != nil {
			return
		}
		if _, err := mapping.Parse([]byte(text)); err != nil {
			t.Errorf("%q drafts\n%s\nwhich cannot be read: %v", table, text, err)
		}
	})
}
