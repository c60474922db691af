package sheet_test

import (
	"archive/zip"
	"bytes"
	"io"
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
			b, err := sheet.Open("x.xlsx", bytes.NewReader(changed(t, data, "xl/worksheets/sheet1.xml", change)), 1<<20, sheet.Options{})
			if err != nil {
				return // refused at once is well, too
			}
			defer b.Close()
			rows := 0
			err = b.Rows("Sheet1", func(sheet.Row) error { rows++; return nil })
			if err == nil {
				t.Errorf("%d rows and no error", rows)
			}
		})
	}
}

// TestBombsAreRefused: a file that unpacks to more than any workbook of a shop.
func TestBombsAreRefused(t *testing.T) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	if _, err := z.CreateRaw(&zip.FileHeader{Name: "xl/worksheets/sheet1.xml", Method: zip.Deflate, UncompressedSize64: 1 << 40}); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	data := b.Bytes()
	_, err := sheet.Open("x.xlsx", bytes.NewReader(data), int64(len(data)), sheet.Options{})
	if err == nil || !strings.Contains(err.Error(), "unpacks to") {
		t.Errorf("the error is %v", err)
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
