package sheet_test

import (
	"archive/zip"
	"bytes"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"bellbuoy/store/imports/sheet"
)

// FuzzWorkbook changes the parts of a workbook that hold what is read: the sheet,
// the texts, the number formats, the list of sheets, and the whole file. Reading ends,
// with an error or with rows whose lines rise.
func FuzzWorkbook(f *testing.F) {
	book := excelize.NewFile()
	style, err := book.NewStyle(&excelize.Style{NumFmt: 14})
	for cell, v := range map[string]any{"A1": "Owner", "B1": "Sold", "A2": "Ada Reed", "B2": time.Date(2024, 5, 1, 0, 0, 0, 0, time.UTC), "C3": 12.5, "A4": true} {
		if err == nil {
			err = book.SetCellValue("Sheet1", cell, v)
		}
	}
	if err == nil {
		err = book.SetCellStyle("Sheet1", "B2", "B2", style)
	}
	var whole bytes.Buffer
	if err == nil {
		err = book.Write(&whole)
	}
	if err != nil {
		f.Fatal(err)
	}
	parts := map[string][]byte{}
	in, err := zip.NewReader(bytes.NewReader(whole.Bytes()), int64(whole.Len()))
	if err != nil {
		f.Fatal(err)
	}
	var names []string
	for _, p := range in.File {
		r, err := p.Open()
		if err != nil {
			f.Fatal(err)
		}
		var text bytes.Buffer
		if _, err := text.ReadFrom(r); err != nil {
			f.Fatal(err)
		}
		names, parts[p.Name] = append(names, p.Name), text.Bytes()
	}
	fuzzed := []string{"xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/styles.xml", "xl/workbook.xml"}
	for i, name := range fuzzed {
		if parts[name] == nil {
			f.Fatalf("no part %q in %v", name, names)
		}
		f.Add(byte(i), parts[name])
	}
	f.Add(byte(len(fuzzed)), whole.Bytes())
	f.Fuzz(func(t *testing.T, which byte, data []byte) {
		if int(which) < len(fuzzed) {
			data = zipped(t, names, func(name string) []byte {
				if name == fuzzed[which] {
					return data
				}
				return parts[name]
			})
		}
		b, err := sheet.Open("x.xlsx", bytes.NewReader(data), int64(len(data)), sheet.Options{})
		if err != nil {
			return
		}
		for _, s := range b.Sheets() {
			line := 0
			_ = b.Rows(s, func(r sheet.Row) error {
				if r.Line <= line {
					t.Fatalf("line %d after line %d", r.Line, line)
				}
				line = r.Line
				return nil
			})
		}
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
	})
}

func zipped(t *testing.T, names []string, text func(name string) []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	for _, name := range names {
		w, err := out.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
		if err == nil {
			_, err = w.Write(text(name))
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
