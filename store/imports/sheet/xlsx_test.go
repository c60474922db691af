package sheet_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule/testkit"
	"bellbuoy/store/imports/sheet"
)

// wantWorkbook is what testdata/messy/workbook.fods says, whoever made a
// workbook of it.
const wantWorkbook = `sheet "Boats & owners"
1: "Boat list of the shop"
3: "Owner" "Sold" "Impeller" "Paid" "Postcode" "Dropped at"
4: "Jørn Quillfeather" day "2022-03-04" day "2024-12-31" number "1234.5" "00412" number "0.395833333333333"
5: "Paz Okonwe" "4/3/22" "" number "-12" number "412" number "1"
9: "Uli <the> Third" number "44624" "" number "1222.5" "#DIV/0!"
sheet "Empty"
sheet "Work"
1: "Boat" "Hours"
2: "Tern" "1,234.5 hrs"
`

func checkWorkbook(t *testing.T, path string) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(wantWorkbook, print(open(t, path, data, sheet.Options{}))); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// The committed workbook was written by LibreOffice 7.4.7 (Debian 12's
// libreoffice-calc-nogui) from workbook.fods beside it.
func TestWorkbookOfLibreOffice(t *testing.T) {
	checkWorkbook(t, "../../../testdata/messy/libreoffice.xlsx")
}

// The same by the LibreOffice that is installed here.
func TestWorkbookOfThisLibreOffice(t *testing.T) {
	soffice, err := exec.LookPath("soffice")
	testkit.Needs(t, err == nil, "soffice, of Debian's package libreoffice-calc-nogui,")
	dir := t.TempDir()
	cmd := exec.CommandContext(t.Context(), soffice, "--headless", "-env:UserInstallation=file://"+dir+"/profile",
		"--convert-to", "xlsx", "--outdir", dir, "../../../testdata/messy/workbook.fods")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	checkWorkbook(t, filepath.Join(dir, "workbook.xlsx"))
}

// What our own writer writes is read back, several sheets and all.
func TestWorkbookReadsBack(t *testing.T) {
	var buf bytes.Buffer
	w := sheet.NewXLSXWriter(&buf)
	write := func(name string, rows ...[]sheet.Cell) {
		t.Helper()
		if err := w.Sheet(name); err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			if err := w.Row(r); err != nil {
				t.Fatal(err)
			}
		}
	}
	write("One", []sheet.Cell{{Text: "Größe"}, {Text: "1.5", Kind: sheet.Number}, {}, {Text: "2024-02-29", Kind: sheet.Day}})
	write("Two & more", []sheet.Cell{{Text: "=1+1"}, {Text: "0041"}})
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	want := `sheet "One"
1: "Größe" number "1.5" "" "2024-02-29"
sheet "Two & more"
1: "=1+1" "0041"
`
	if diff := cmp.Diff(want, print(open(t, "x.xlsx", buf.Bytes(), sheet.Options{}))); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func TestTextHoldsOneTable(t *testing.T) {
	var buf bytes.Buffer
	w, err := sheet.NewCSVWriter(&buf, ";")
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Sheet("One"); err != nil {
		t.Fatal(err)
	}
	if err := w.Row([]sheet.Cell{{Text: "a;b"}, {Text: "c"}}); err != nil {
		t.Fatal(err)
	}
	if err := w.Sheet("Two"); err == nil || !strings.Contains(err.Error(), ".xlsx") {
		t.Errorf("a second table: %v", err)
	}
	if err := w.Close(); err != nil || buf.String() != "\uFEFF\"a;b\";c\r\n" {
		t.Errorf("wrote %q, %v", buf.String(), err)
	}
}
