package climate

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"io"
	"strconv"
	"strings"
)

// Format is the shape of a weather file.
type Format int

// Formats that this package reads.
const (
	FormatUnknown   Format = iota
	FormatDly              // GHCN-Daily .dly, one station, element and month a line
	FormatByStation        // GHCN-Daily CSV, one station, day and element a line
	FormatSummaries        // daily summaries CSV with a header, one day a line
	FormatNormals          // annual/seasonal climate normals CSV of one station
)

// String names the format.
func (f Format) String() string {
	switch f {
	case FormatDly:
		return "GHCN-Daily .dly"
	case FormatByStation:
		return "GHCN-Daily by-station CSV"
	case FormatSummaries:
		return "daily summaries CSV"
	case FormatNormals:
		return "climate normals CSV"
	}
	return "unknown format"
}

// detect tells the format from the beginning of a file, which should hold its
// whole first line. The error is a [*Fault] that says what was found and what
// to give instead.
func detect(head []byte, o Options) (Format, error) {
	if f := packed(head); f != nil {
		return FormatUnknown, f
	}
	line, _, _ := bytes.Cut(bytes.TrimPrefix(head, utf8BOM), []byte("\n"))
	first := strings.TrimRight(string(line), "\r ")
	if strings.TrimSpace(first) == "" {
		return FormatUnknown, &Fault{1, "the file is empty or begins with an empty line: download it again"}
	}
	fields := splitLine(first)
	switch {
	case looksDly(first):
		return FormatDly, nil
	case looksByStation(fields):
		return FormatByStation, nil
	case hasNormals(fields):
		return FormatNormals, nil
	}
	names := o.Columns.orDefault()
	if _, _, ok := findColumn(fields, names.TMin); ok {
		if _, _, ok := findColumn(fields, names.Date); ok {
			return FormatSummaries, nil
		}
	}
	return FormatUnknown, &Fault{1, "not a weather file that can be read, it begins " + quoteStart(first) +
		": give a GHCN-Daily .dly or by-station CSV file, a daily summaries CSV with columns " +
		strconv.Quote(names.Date) + " and " + strconv.Quote(names.TMin) + ", or an annual/seasonal normals CSV"}
}

var utf8BOM = []byte("\ufeff")

// packed recognises what a browser or an office program may have made of the
// file.
func packed(head []byte) *Fault {
	switch {
	case bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
		return &Fault{0, "the file is compressed with gzip: unpack it first"}
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return &Fault{0, "the file is a zip archive or an office document: unpack it, or save it as CSV"}
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}), bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return &Fault{0, "the file is in UTF-16: save it as CSV in UTF-8"}
	case bytes.HasPrefix(bytes.TrimSpace(head), []byte("<")):
		return &Fault{1, "the file is a web page, not data: the download failed, try again"}
	}
	return nil
}

func splitLine(line string) []string {
	r := csv.NewReader(strings.NewReader(line))
	r.LazyQuotes, r.FieldsPerRecord = true, -1
	fields, err := r.Read()
	if err != nil {
		return nil
	}
	return fields
}

func looksDly(line string) bool {
	return len(line) >= 29 && !strings.Contains(line, ",") &&
		digits(line[11:17]) && isElement(line[17:21])
}

func looksByStation(fields []string) bool {
	if len(fields) < 7 {
		return false
	}
	return isByStationHeader(fields) || digits(fields[1]) && len(fields[1]) == 8 && isElement(fields[2])
}

func digits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// isElement recognises GHCN-Daily's four-character element codes, some of which
// carry digits (WT01).
func isElement(s string) bool {
	return len(s) == 4 && strings.Trim(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") == "" && !digits(s)
}

func quoteStart(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return strconv.Quote(s)
}

// start wraps a body in the limits, refuses what is not text and skips a byte
// order mark. Its buffer holds the longest first line allowed.
func start(r io.Reader) (*bufio.Reader, error) {
	b := bufio.NewReaderSize(newGuard(&lineEnds{r: r}), 64<<10)
	head, err := b.Peek(4)
	if err != nil && err != io.EOF {
		return nil, err
	}
	if f := packed(head); f != nil {
		return nil, f
	}
	if bytes.HasPrefix(head, utf8BOM) {
		if _, err := b.Discard(len(utf8BOM)); err != nil {
			return nil, err
		}
	}
	return b, nil
}
