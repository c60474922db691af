package sheet_test

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"runtime"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"bellbuoy/store/imports/sheet"
)

// made is a workbook that the test has filled.
func made(t *testing.T, fill func(f *excelize.File) error) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	if err := fill(f); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// changed is a workbook with one part of it changed.
func changed(t *testing.T, data []byte, part string, change func([]byte) []byte) []byte {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	for _, f := range in.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == part {
			text = change(text)
		}
		w, err := out.Create(f.Name)
		if err == nil {
			_, err = w.Write(text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestPostalCodesKeepTheirZeros: a number shown with five digits is the text that
// is shown.
func TestPostalCodesKeepTheirZeros(t *testing.T) {
	data := made(t, func(f *excelize.File) error {
		zip := "00000"
		style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &zip})
		if err != nil {
			return err
		}
		f.SetCellValue("Sheet1", "A1", 2138)
		f.SetCellValue("Sheet1", "B1", 2138)
		return f.SetCellStyle("Sheet1", "A1", "A1", style)
	})
	if got, want := print(open(t, "x.xlsx", data, sheet.Options{})), "1: \"02138\" number \"2138\"\n"; !strings.Contains(got, want) {
		t.Errorf("read %s, want %s", got, want)
	}
}

// TestFormulasWithoutAResultAreWorkedOut: programs that write workbooks, and never
// show them, leave the results out.
func TestFormulasWithoutAResultAreWorkedOut(t *testing.T) {
	data := made(t, func(f *excelize.File) error {
		f.SetCellValue("Sheet1", "A1", 12.5)
		f.SetCellFormula("Sheet1", "B1", "A1*2")
		return f.SetCellFormula("Sheet1", "C1", `"hull "&A1`)
	})
	if got, want := print(open(t, "x.xlsx", data, sheet.Options{})), "1: number \"12.5\" number \"25\" \"hull 12.5\"\n"; !strings.Contains(got, want) {
		t.Errorf("read %s, want %s", got, want)
	}
}

// TestHiddenSheetsAreLeftAlone: what its program does not show is named, and not
// taken for a table of the shop's.
func TestHiddenSheetsAreLeftAlone(t *testing.T) {
	b := open(t, "x.xlsx", made(t, func(f *excelize.File) error {
		f.SetCellValue("Sheet1", "A1", "Boat")
		if _, err := f.NewSheet("lists"); err != nil {
			return err
		}
		f.SetCellValue("lists", "A1", "secret")
		return f.SetSheetVisible("lists", false)
	}), sheet.Options{})
	if s, h := strings.Join(b.Sheets(), ","), strings.Join(b.Hidden(), ","); s != "Sheet1" || h != "lists" {
		t.Errorf("sheets %q, hidden %q", s, h)
	}
}

// TestBrokenSheetsAreNoEmptyOnes: a sheet that breaks off is an error, also if no
// row came before that.
func TestBrokenSheetsAreNoEmptyOnes(t *testing.T) {
	data := made(t, func(f *excelize.File) error {
		for i, v := range []string{"Boat", "Tern", "Wren"} {
			name, err := excelize.CoordinatesToCellName(1, i+1)
			if err != nil {
				return err
			}
			f.SetCellValue("Sheet1", name, v)
		}
		return nil
	})
	for name, change := range map[string]func([]byte) []byte{
		"cut off after a row": func(b []byte) []byte { return b[:bytes.Index(b, []byte("</row>"))+len("</row>")] },
		"cut off before any":  func(b []byte) []byte { return b[:bytes.Index(b, []byte("<sheetData>"))] },
		"an open tag":         func(b []byte) []byte { return bytes.Replace(b, []byte("<sheetData>"), []byte("<sheetData"), 1) },
	} {
		t.Run(name, func(t *testing.T) {
			b := open(t, "x.xlsx", changed(t, data, "xl/worksheets/sheet1.xml", change), sheet.Options{})
			rows := 0
			err := b.Rows("Sheet1", func(sheet.Row) error { rows++; return nil })
			if err == nil {
				t.Errorf("%d rows and no error", rows)
			}
		})
	}
}

// claimed is a workbook of which some parts say that they unpack to so many bytes.
func claimed(t *testing.T, sizes map[string]uint64) []byte {
	t.Helper()
	data := made(t, func(*excelize.File) error { return nil })
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	for _, f := range in.File {
		r, err := f.OpenRaw()
		if err != nil {
			t.Fatal(err)
		}
		if claim := sizes[f.Name]; claim > 0 {
			f.UncompressedSize64 = claim
		}
		w, err := out.CreateRaw(&f.FileHeader)
		if err == nil {
			_, err = io.Copy(w, r)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestBombsAreRefused: a file that unpacks to more than any workbook of a shop, or says
// so, without the memory for it being taken.
func TestBombsAreRefused(t *testing.T) {
	const sheet1, theme = "xl/worksheets/sheet1.xml", "xl/theme/theme1.xml"
	plain := made(t, func(*excelize.File) error { return nil })
	grown := func(part string) []byte {
		return changed(t, plain, part, func(b []byte) []byte { return append(b, bytes.Repeat([]byte("\n"), 80<<20)...) })
	}
	for _, c := range []struct {
		name, want string
		data       []byte
	}{
		{"a sheet of a terabyte", "unpacks to", claimed(t, map[string]uint64{sheet1: 1 << 40})},
		{"two sizes that come to nothing together", "unpacks to", claimed(t, map[string]uint64{sheet1: 1 << 63, theme: 1 << 63})},
		{"a sheet shorter than it says", sheet1 + `" is broken`, claimed(t, map[string]uint64{sheet1: 500 << 20})},
		{"a sheet longer than it says", sheet1 + `" is broken`, claimed(t, map[string]uint64{sheet1: 10})},
		{"a part of 80 MB that is no sheet", "besides its large sheets", grown(theme)},
		{"a sheet of 80 MB", "", grown(sheet1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			b, err := sheet.Open("x.xlsx", bytes.NewReader(c.data), int64(len(c.data)), sheet.Options{})
			runtime.ReadMemStats(&after)
			switch {
			case err == nil:
				if err := b.Close(); err != nil {
					t.Error(err)
				}
				if c.want != "" {
					t.Errorf("it is taken, want an error with %q", c.want)
				}
			case c.want == "" || !strings.Contains(err.Error(), c.want):
				t.Errorf("the error is %v, want %q", err, c.want)
			}
			if took := (after.TotalAlloc - before.TotalAlloc) >> 20; took > 30 {
				t.Errorf("%d bytes took %d MB of memory", len(c.data), took)
			}
		})
	}
}

// TestABrokenWorkbookLeavesNoFiles: what was unpacked into files before the fault was found.
func TestABrokenWorkbookLeavesNoFiles(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	t.Setenv("TMP", dir) // on Windows
	data := made(t, func(*excelize.File) error { return nil })
	data = changed(t, data, "xl/worksheets/sheet1.xml", func(b []byte) []byte { return append(b, bytes.Repeat([]byte("\n"), 2<<20)...) })
	data = changed(t, data, "xl/styles.xml", func([]byte) []byte { return []byte("<styleSheet><fonts>") })
	if _, err := sheet.Open("x.xlsx", bytes.NewReader(data), int64(len(data)), sheet.Options{}); err == nil {
		t.Error("it is taken")
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// TestNoTablesAreRefused: files that are taken for tables by their name.
func TestNoTablesAreRefused(t *testing.T) {
	for data, want := range map[string]string{
		"\x1f\x8b\x08\x00 and so on":         "gzip",
		"%PDF-1.7 and so on":                 "PDF",
		"<!DOCTYPE html><table><tr><td>Boat": "web page",
		"\ufeff\n <HTML><table>":             "web page",
	} {
		if _, err := sheet.Open("boats.csv", strings.NewReader(data), int64(len(data)), sheet.Options{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.10q: the error is %v, want %q in it", data, err, want)
		}
	}
}

// TestAStrayQuoteSwallowsNoRows: the rows up to where another cell's quote seems to
// close it are no cell.
func TestAStrayQuoteSwallowsNoRows(t *testing.T) {
	for name, tt := range map[string]struct {
		text string
		ok   bool
	}{
		"a cell of two lines":           {"a,\"one\ntwo\",c\nd,e,f\n", true},
		"blanks behind it":              {"a,\"one\ntwo\"  ,c\n", true},
		"at the end of the file":        {"a,\"one\ntwo\"", true},
		"an inch that opens":            {"hose,\"3/4,12\nbelt,x,1\nplug,\"5/8\",2\n", false},
		"closed by a word in the midst": {"a,\"Tern\nb,Wren\nc,the \"Old Salt\",2\n", false},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := texts(open(t, "x.csv", []byte(tt.text), sheet.Options{Encoding: sheet.UTF8, Delimiter: ","}))
			if (err == nil) != tt.ok {
				t.Errorf("the error is %v", err)
			}
		})
	}
}

// TestTextsOfCells: a text whose parts look different is one, how it is pronounced is no
// part of it, characters that XML cannot hold are written _x000A_, and a cell may hold its
// text itself.
func TestTextsOfCells(t *testing.T) {
	data := made(t, func(f *excelize.File) error {
		f.SetCellValue("Sheet1", "A1", "first")
		f.SetCellValue("Sheet1", "C1", "second")
		return f.SetCellValue("Sheet1", "D1", "third")
	})
	data = changed(t, data, "xl/sharedStrings.xml", func([]byte) []byte {
		return []byte(`<x:sst xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><x:si><x:r><x:t>Sea </x:t></x:r><x:r><x:rPr><x:b/></x:rPr><x:t xml:space="preserve"> Tern &amp; Co</x:t></x:r>` +
			`<x:rPh sb="0" eb="1"><x:t>spoken</x:t></x:rPh></x:si><x:si><x:t>two_x000A_lines _x005F_x000A_ _x00</x:t></x:si><x:si><x:t/></x:si></x:sst>`)
	})
	data = changed(t, data, "xl/worksheets/sheet1.xml", func(b []byte) []byte {
		return bytes.Replace(b, []byte("</row>"), []byte(`<c r="F1" t="inlineStr"><is><r><t>in</t></r><r><t>side</t></r></is></c><c t="str"><f>A1</f><v>_x000A_</v></c></row>`), 1)
	})
	want := `1: "Sea  Tern & Co" "" "two\nlines _x000A_ _x00" "" "" "inside" "_x000A_"`
	if got := print(open(t, "x.xlsx", data, sheet.Options{})); !strings.Contains(got, want+"\n") {
		t.Errorf("read %s, want %s", got, want)
	}
}

// TestSheetsThatContradictThemselves are errors that say where, and no rows that are lost.
func TestSheetsThatContradictThemselves(t *testing.T) {
	data := made(t, func(f *excelize.File) error {
		f.SetCellValue("Sheet1", "A1", "Boat")
		return f.SetCellValue("Sheet1", "A2", "Tern")
	})
	for name, tt := range map[string]struct{ part, was, is, want string }{
		"rows that do not rise":    {"xl/worksheets/sheet1.xml", `r="2"`, `r="1"`, "row 1 stands behind row 1"},
		"a row that no sheet has":  {"xl/worksheets/sheet1.xml", `<row r="2"`, `<row r="9000000"`, "row 9000000 stands behind row 1"},
		"a row in a row":           {"xl/worksheets/sheet1.xml", `</row>`, ``, "row 2 begins in row 1"},
		"a row without an end":     {"xl/worksheets/sheet1.xml", `</row></sheetData>`, `</x></sheetData>`, "row 2 has no end"},
		"a cell outside of rows":   {"xl/worksheets/sheet1.xml", `<row r="1"`, `<x r="1"`, "outside of the rows, after row 0"},
		"a text that is not there": {"xl/worksheets/sheet1.xml", `<v>1</v>`, `<v>7</v>`, `row 2: a cell refers to the text "7"`},
		"texts that break off":     {"xl/sharedStrings.xml", `</sst>`, ``, "texts are broken after the first 2"},
		"more texts than are read": {"xl/sharedStrings.xml", `Tern`, strings.Repeat("Tern", 17<<20), "more than the 64 MB"},
	} {
		t.Run(name, func(t *testing.T) {
			b := open(t, "x.xlsx", changed(t, data, tt.part, func(b []byte) []byte { return bytes.Replace(b, []byte(tt.was), []byte(tt.is), 1) }), sheet.Options{})
			if err := b.Rows("Sheet1", func(sheet.Row) error { return nil }); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("the error is %v, want %q in it", err, tt.want)
			}
		})
	}
}
