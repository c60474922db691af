package csvrows_test

import (
	"bytes"
	"encoding/csv"
	"io"
	"slices"
	"strings"
	"testing"

	"bellbuoy/store/internal/csvrows"
)

// readRows reads a whole file of an export.
func readRows(text string) (rows [][]string, err error) {
	r := csvrows.New(strings.NewReader(text), csvrows.Options{Delimiter: ',', Strict: true, Exact: true})
	for {
		row, _, err := r.Next()
		if err == io.EOF {
			return rows, nil
		}
		if err != nil {
			return nil, err
		}
		rows = append(rows, slices.Clone(row))
	}
}

// FuzzRows writes any cells with the standard library and reads them back, to
// the byte; and reads any text without failing otherwise than with an error.
func FuzzRows(f *testing.F) {
	for _, s := range []string{"", "a", "a,b", "\"", "\r\n", "a\r\nb", "\"a\"\"b\",c\n", " x ", "=1+1", "\xff\x00", `\.`, "\"open"} {
		f.Add(s, "x")
		f.Add("x", s)
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		want := [][]string{{a, b}, {b, a}, {a, a}}
		var text bytes.Buffer
		if err := csv.NewWriter(&text).WriteAll(want); err != nil {
			t.Fatal(err)
		}
		got, err := readRows(text.String())
		if err != nil || !slices.EqualFunc(got, want, slices.Equal) {
			t.Errorf("%q came back as %q, %v", want, got, err)
		}
		if _, err := readRows(a); err != nil && strings.Count(a, `"`) == 0 {
			t.Errorf("%q has no quotes and was refused: %v", a, err)
		}
	})
}
