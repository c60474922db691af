package sheet_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bellbuoy/store/imports/sheet"
)

var update = flag.Bool("update", false, "write the golden files anew")

func open(t testing.TB, name string, data []byte, o sheet.Options) *sheet.Book {
	t.Helper()
	b, err := sheet.Open(name, bytes.NewReader(data), int64(len(data)), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

// print writes a book as the golden files keep it.
func print(b *sheet.Book) string {
	var s strings.Builder
	if d := b.Dialect(); !b.Workbook() {
		fmt.Fprintf(&s, "%s, delimiter %q\n", d.Encoding, d.Delimiter)
	}
	for _, name := range b.Sheets() {
		if b.Workbook() {
			fmt.Fprintf(&s, "sheet %q\n", name)
		}
		err := b.Rows(name, func(r sheet.Row) error {
			fmt.Fprintf(&s, "%d:", r.Line)
			for _, c := range r.Cells {
				fmt.Fprintf(&s, " %s%q", [...]string{"", "number ", "day "}[c.Kind], c.Text)
			}
			s.WriteByte('\n')
			return nil
		})
		if err != nil {
			fmt.Fprintf(&s, "error: %v\n", err)
		}
	}
	return s.String()
}

// Each awkward file gives what stands beside it in a .want file. The ones named
// rfc4180 are the examples of RFC 4180, section 2, by their number there.
func TestAwkwardFiles(t *testing.T) {
	files, err := filepath.Glob("../../../testdata/messy/*.csv")
	if err != nil || len(files) < 20 {
		t.Fatalf("%d files, %v; want the awkward ones", len(files), err)
	}
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			got := print(open(t, path, data, sheet.Options{}))
			golden := strings.TrimSuffix(path, ".csv") + ".want"
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

func TestOpenRefuses(t *testing.T) {
	tests := []struct {
		name, data string
		o          sheet.Options
		want       string
	}{
		{"old workbook", "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1 and so on", sheet.Options{}, "save it as .xlsx"},
		{"a package that is no workbook", "PK\x03\x04 and so on", sheet.Options{}, "read the workbook"},
		{"unknown encoding", "a,b", sheet.Options{Encoding: "latin-9"}, "want one of utf-8"},
		{"unknown delimiter", "a,b", sheet.Options{Delimiter: ":"}, "want a comma"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := sheet.Open("x", strings.NewReader(tt.data), int64(len(tt.data)), tt.o)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want %q in it", err, tt.want)
			}
		})
	}
}

// texts reads a text book into plain strings.
func texts(b *sheet.Book) (all [][]string, err error) {
	err = b.Rows(b.Sheets()[0], func(r sheet.Row) error {
		var row []string
		for _, c := range r.Cells {
			row = append(row, c.Text)
		}
		all = append(all, row)
		return nil
	})
	return all, err
}

// What the standard library's writer writes is read back, with every delimiter
// and in every encoding that can hold it.
func TestReadsBackWhatIsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SampledFrom(sheet.Delimiters()).Draw(t, "delimiter")
		cell := rapid.StringMatching(`x[ -~\n]{0,8}`)
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 1, 5), 1, 6).Draw(t, "rows")
		var buf bytes.Buffer
		w := csv.NewWriter(&buf)
		w.Comma = rune(d[0])
		w.UseCRLF = rapid.Bool().Draw(t, "CRLF")
		if err := w.WriteAll(rows); err != nil {
			t.Fatal(err)
		}
		b, err := sheet.Open("x", bytes.NewReader(buf.Bytes()), int64(buf.Len()), sheet.Options{Encoding: sheet.UTF8, Delimiter: d})
		if err != nil {
			t.Fatal(err)
		}
		got, err := texts(b)
		if err != nil || !reflect.DeepEqual(got, rows) {
			t.Fatalf("wrote %q, read %q, %v", rows, got, err)
		}
	})
}

// Wherever the standard library's strict reader is content, both read the same.
func FuzzText(f *testing.F) {
	files, err := filepath.Glob("../../../testdata/messy/*.csv")
	if err != nil || len(files) == 0 {
		f.Fatal("no seeds", err)
	}
	for _, path := range files {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		found, err := sheet.Open("x", bytes.NewReader(data), int64(len(data)), sheet.Options{})
		if err == nil {
			_, err = texts(found)
			if quote := (*sheet.QuoteError)(nil); err != nil && !errors.As(err, &quote) {
				t.Fatalf("%q: %v", data, err)
			}
		}
		if bytes.Contains(data, []byte("\r")) || bytes.HasPrefix(data, []byte("\uFEFF")) || bytes.HasPrefix(bytes.ToLower(data), []byte("sep=")) {
			return // there we go further than the strict reader
		}
		strict := csv.NewReader(bytes.NewReader(data))
		strict.FieldsPerRecord = -1
		want, err := strict.ReadAll()
		b, openErr := sheet.Open("x", bytes.NewReader(data), int64(len(data)), sheet.Options{Encoding: sheet.UTF8, Delimiter: ","})
		if err != nil || openErr != nil {
			return
		}
		got, err := texts(b)
		if err != nil {
			t.Fatalf("%q: %v; the strict reader is content", data, err)
		}
		want = notBlank(want)
		if len(got) != len(want) || len(got) > 0 && !reflect.DeepEqual(got, want) {
			t.Fatalf("%q reads as %q, strictly as %q", data, got, want)
		}
	})
}

func notBlank(rows [][]string) (kept [][]string) {
	for _, r := range rows {
		if strings.TrimSpace(strings.Join(r, "")) != "" {
			kept = append(kept, r)
		}
	}
	return kept
}

// Rows read a second; plain text must stay far above what the store takes in.
func BenchmarkText(b *testing.B) {
	var buf bytes.Buffer
	const rows = 20000
	for i := range rows {
		fmt.Fprintf(&buf, "B%06d,E%06d,2024-05-06,impeller,%d,100.50,shop,\"a note, quoted\"\n", i, i, i)
	}
	book := open(b, "x.csv", buf.Bytes(), sheet.Options{})
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		if err := book.Rows("x.csv", func(sheet.Row) error { n++; return nil }); err != nil || n != rows {
			b.Fatal(n, err)
		}
	}
	b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
}
