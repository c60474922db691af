package sheet

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
	"github.com/xuri/nfp"
)

// workbook reads the sheets of a workbook row by row. The library knows the number
// formats, because a date is only a number with a certain one, and works out formulas;
// the cells are read here, in one go, which it would take four times as long for.
type workbook struct {
	file       *excelize.File
	zip        *zip.Reader
	parts      map[string]string // sheet name to its part in the package
	sharedPart string            // holds the texts that cells share, "" if there are none
	texts      []string
	hidden     []string             // sheets that the workbook's program does not show
	since      bool                 // days are counted from 1904
	looks      map[int]look         // by style
	cached     map[string]*rowCache // sheets that were read to their end
}

// unzipLimit is the most that a workbook may unpack to, in bytes: the sheets of
// a shop have some tens of megabytes.
const unzipLimit = 512 << 20

// onDisk is the size in bytes from which the library unpacks a sheet, or the texts that
// cells share, into a file; everything else it holds in memory.
const onDisk = 1 << 20

// besidesLimit is the most that it may hold so, in bytes.
const besidesLimit = 64 << 20

// checkSizes refuses a workbook that is too large, or whose parts are not as large as
// they say: the library takes memory by what they say.
func checkSizes(z *zip.Reader) error {
	var unpacked, besides uint64
	for _, f := range z.File {
		unpacked += min(f.UncompressedSize64, unzipLimit+1) // so that no sum of them wraps around
		if f.UncompressedSize64 <= onDisk || !strings.HasPrefix(strings.ToLower(f.Name), "xl/worksheets/sheet") && !strings.EqualFold(f.Name, "xl/sharedStrings.xml") {
			besides += f.UncompressedSize64
		}
	}
	const advice = "save the sheets one by one as CSV"
	if unpacked > unzipLimit {
		return fmt.Errorf("it unpacks to more than the %d MB that are read; %s", unzipLimit>>20, advice)
	}
	if besides > besidesLimit {
		return fmt.Errorf("it holds more than the %d MB that are read besides its large sheets, as of pictures; %s", besidesLimit>>20, advice)
	}
	for _, f := range z.File {
		r, err := f.Open()
		if err == nil {
			_, err = io.Copy(io.Discard, r)
			_ = r.Close() // says what the reading has said
		}
		if err != nil {
			return fmt.Errorf("its part %q is broken: %w; open the workbook and save it again", f.Name, err)
		}
	}
	return nil
}

func openWorkbook(src io.ReaderAt, size int64) (*workbook, error) {
	w := &workbook{looks: map[int]look{}, cached: map[string]*rowCache{}}
	var err error
	if w.zip, err = zip.NewReader(src, size); err != nil {
		return nil, err
	}
	if err = checkSizes(w.zip); err != nil {
		return nil, err
	}
	if err = w.readParts(); err != nil {
		return nil, err
	}
	w.file, err = excelize.OpenReader(io.NewSectionReader(src, 0, size), excelize.Options{UnzipSizeLimit: unzipLimit, UnzipXMLSizeLimit: onDisk})
	if err != nil {
		if w.file != nil { // with what was unpacked into files before the fault
			err = errors.Join(err, w.close())
		}
		return nil, err
	}
	props, err := w.file.GetWorkbookProps()
	if err != nil {
		return nil, errors.Join(err, w.close())
	}
	w.since = props.Date1904 != nil && *props.Date1904
	return w, nil
}

func (w *workbook) close() error {
	err := w.file.Close()
	for _, k := range w.cached {
		err = errors.Join(err, k.close())
	}
	return err
}

// names are the sheets that hold cells, in the workbook's order.
func (w *workbook) names() []string {
	var all []string
	for _, name := range w.file.GetSheetList() {
		if strings.Contains(w.parts[name], "worksheets/") && !slices.Contains(w.hidden, name) {
			all = append(all, name)
		}
	}
	return all
}

// rows reads a sheet, from what was kept of it if it was read before.
func (w *workbook) rows(sheet string, fn func(Row) error) error {
	if k := w.cached[sheet]; k != nil {
		return k.rows(fn)
	}
	k, err := newRowCache()
	if err != nil {
		return err
	}
	err = w.parse(sheet, func(r Row) error {
		if err := k.add(r); err != nil {
			return err
		}
		return fn(r)
	})
	if err == nil {
		err = k.done()
	}
	if err != nil {
		k.close() // the reading was broken off; a later one begins again
		return err
	}
	w.cached[sheet] = k
	return nil
}

// parse reads a sheet out of the package.
func (w *workbook) parse(sheet string, fn func(Row) error) error {
	if err := w.readTexts(); err != nil {
		return err
	}
	part, err := w.zip.Open(w.parts[sheet])
	if err != nil {
		return fmt.Errorf("sheet %q: %w", sheet, err)
	}
	defer part.Close() // only read
	r := cellReader{dec: xml.NewDecoder(part)}
	row := Row{}
	for {
		marks, err := r.row()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("sheet %q is broken after row %d: %w; open the workbook and save it again", sheet, row.Line, err)
		}
		row.Line = r.line
		if row.Cells, err = w.cells(row.Cells[:0], sheet, row.Line, marks); err != nil {
			return err
		}
		if blank(row.Cells) {
			continue
		}
		if err := fn(row); err != nil {
			return err
		}
	}
}

// cells makes values of what a row says. What a formula comes to that was saved
// without its result is worked out.
func (w *workbook) cells(to []Cell, sheet string, line int, marks []mark) ([]Cell, error) {
	for i, m := range marks {
		v := m.text
		if m.shared && v != "" {
			n, err := strconv.Atoi(strings.TrimSpace(v))
			if err != nil || n < 0 || n >= len(w.texts) {
				return to, fmt.Errorf("sheet %q, row %d: a cell refers to the text %q of the workbook, which it does not have; open the workbook and save it again", sheet, line, v)
			}
			v = w.texts[n]
		}
		if v == "" && m.formula {
			name, err := excelize.CoordinatesToCellName(i+1, line)
			if err == nil {
				v, err = w.file.CalcCellValue(sheet, name, excelize.Options{RawCellValue: true})
			}
			if err != nil {
				return to, fmt.Errorf("sheet %q, cell %s: the file does not hold what its formula comes to (%w); open the workbook and save it again", sheet, name, err)
			}
			_, notNumber := strconv.ParseFloat(v, 64)
			m.number = notNumber == nil
		}
		c := Cell{Text: v}
		if m.number && v != "" {
			c = w.number(v, m.style)
		}
		to = append(to, c)
	}
	return to, nil
}

// number writes a number plainly, or the day that it stands for.
func (w *workbook) number(v string, style int) Cell {
	f, err := strconv.ParseFloat(v, 64)
	if err != nil {
		return Cell{Text: v}
	}
	look := w.look(style)
	if look.day {
		if t, err := excelize.ExcelDateToTime(f, w.since); err == nil {
			return Cell{Text: t.Format("2006-01-02"), Kind: Day}
		}
	}
	text := strconv.FormatFloat(f, 'f', -1, 64)
	if look.digits > 0 && !strings.ContainsAny(text, ".-") {
		// A postal code 02138 is the number 2138 with a format of five zeros.
		return Cell{Text: strings.Repeat("0", max(0, look.digits-len(text))) + text}
	}
	return Cell{Text: text, Kind: Number}
}

// look is how a style shows a number: as a day, or filled up to some digits, 0 for as
// many as it has.
type look struct {
	day    bool
	digits int
}

// look reads a style once.
func (w *workbook) look(style int) look {
	l, known := w.looks[style]
	if known {
		return l
	}
	if s, err := w.file.GetStyle(style); err == nil {
		l.day = dateFormat(s.NumFmt, s.CustomNumFmt)
		if code := s.CustomNumFmt; code != nil && strings.Trim(*code, "0") == "" && len(*code) >= 2 {
			l.digits = len(*code)
		}
	}
	w.looks[style] = l
	return l
}

// dateFormat looks at a number format: by its number, which the standard
// (ECMA-376 part 1, 18.8.30) gives a meaning, or by its own code.
func dateFormat(id int, custom *string) bool {
	if custom == nil {
		return id >= 14 && id <= 17 || id == 22 || id >= 27 && id <= 36 || id >= 50 && id <= 58
	}
	p := nfp.NumberFormatParser()
	for _, section := range p.Parse(*custom) {
		for _, token := range section.Items {
			if token.TType == nfp.TokenTypeDateTimes && strings.ContainsAny(token.TValue, "yYdD") {
				return true
			}
		}
	}
	return false
}

// textLimit is the most that the different texts of a workbook may come to, in bytes:
// they are kept in memory.
const textLimit = 64 << 20

// readTexts reads the texts that the cells of all sheets share, once.
func (w *workbook) readTexts() error {
	if w.sharedPart == "" || w.texts != nil {
		return nil
	}
	part, err := w.zip.Open(w.sharedPart)
	if err != nil {
		return fmt.Errorf("%s: %w", w.sharedPart, err)
	}
	defer part.Close() // only read
	dec, text, size, depth := xml.NewDecoder(part), texter{}, 0, 0
	texts := []string{}
	for {
		token, err := dec.RawToken()
		switch {
		case err == io.EOF && depth == 0:
			w.texts = texts
			return nil
		case err != nil:
			return fmt.Errorf("the workbook's texts are broken after the first %d: %w; open the workbook and save it again", len(texts), err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			depth++
			text.start(t.Name.Local)
		case xml.CharData:
			text.add(t)
		case xml.EndElement:
			depth--
			text.end(t.Name.Local)
			if t.Name.Local != "si" {
				continue
			}
			texts = append(texts, text.take())
			if size += len(texts[len(texts)-1]); size > textLimit {
				return fmt.Errorf("its different texts are more than the %d MB that are read; save the sheets one by one as CSV", textLimit>>20)
			}
		}
	}
}

// readParts maps the names of sheets to the parts of the package that hold them, and
// finds the one of the texts.
func (w *workbook) readParts() error {
	var book struct {
		Sheets []struct {
			Name  string     `xml:"name,attr"`
			State string     `xml:"state,attr"`
			Attr  []xml.Attr `xml:",any,attr"`
		} `xml:"sheets>sheet"`
	}
	var rels struct {
		All []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if err := readPart(w.zip, "xl/workbook.xml", &book); err != nil {
		return err
	}
	if err := readPart(w.zip, "xl/_rels/workbook.xml.rels", &rels); err != nil {
		return err
	}
	target := map[string]string{}
	for _, r := range rels.All {
		if abs, ok := strings.CutPrefix(r.Target, "/"); ok {
			target[r.ID] = abs
		} else {
			target[r.ID] = path.Join("xl", r.Target)
		}
		if strings.HasSuffix(r.Type, "/sharedStrings") {
			w.sharedPart = target[r.ID]
		}
	}
	w.parts = map[string]string{}
	for _, s := range book.Sheets {
		if s.State == "hidden" || s.State == "veryHidden" {
			w.hidden = append(w.hidden, s.Name)
		}
		for _, a := range s.Attr {
			if a.Name.Local == "id" {
				w.parts[s.Name] = target[a.Value]
			}
		}
	}
	return nil
}

// partLimit is the most that is read of the two small parts.
const partLimit = 16 << 20

func readPart(z *zip.Reader, name string, into any) error {
	f, err := z.Open(name)
	if err != nil {
		return fmt.Errorf("it holds no %s; save it as an .xlsx workbook", name)
	}
	defer f.Close() // only read
	if err := xml.NewDecoder(io.LimitReader(f, partLimit)).Decode(into); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}
