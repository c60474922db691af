package sheet

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"bellbuoy/store/internal/csvrows"
)

// The encodings that text files may be in, by the names that the web uses.
const (
	UTF8        = "utf-8"
	UTF16LE     = "utf-16le"
	UTF16BE     = "utf-16be"
	Windows1252 = "windows-1252"
)

// Encodings are the names for [Options].
func Encodings() []string { return []string{UTF8, UTF16LE, UTF16BE, Windows1252} }

// Delimiters are what may stand between cells, for [Options].
func Delimiters() []string { return []string{",", ";", "\t", "|"} }

// sniffed is how much of a file is looked at for its delimiter.
const sniffed = 64 << 10

// look completes the options by what the file shows.
func (b *Book) look() (Options, error) {
	o := b.opts
	if o.Encoding != "" && !slices.Contains(Encodings(), o.Encoding) {
		return o, fmt.Errorf("encoding %q: want one of %s", o.Encoding, strings.Join(Encodings(), ", "))
	}
	if o.Delimiter != "" && !slices.Contains(Delimiters(), o.Delimiter) {
		return o, fmt.Errorf("delimiter %q: want a comma, a semicolon, a tab or a bar", o.Delimiter)
	}
	if o.Encoding == "" {
		found, err := b.findEncoding()
		if err != nil {
			return o, err
		}
		o.Encoding = found
	}
	if o.Delimiter == "" {
		head, err := io.ReadAll(io.LimitReader(b.decoded(o.Encoding), sniffed))
		if err != nil {
			return o, err
		}
		o.Delimiter = findDelimiter(head)
	}
	return o, nil
}

// findEncoding reads a mark at the beginning, else sees whether the whole file
// is UTF-8; what is neither that nor UTF-16 without a mark is taken for
// Windows-1252, which a person should confirm.
func (b *Book) findEncoding() (string, error) {
	head := make([]byte, 512)
	n, err := b.src.ReadAt(head, 0)
	if err != nil && err != io.EOF {
		return "", err
	}
	head = head[:n]
	switch {
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}):
		return UTF16LE, nil
	case bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		return UTF16BE, nil
	}
	if odd, even := zeros(head, 1), zeros(head, 0); odd > n/4 && even == 0 {
		return UTF16LE, nil
	} else if even > n/4 && odd == 0 {
		return UTF16BE, nil
	}
	line, err := firstNotUTF8(io.NewSectionReader(b.src, 0, b.size))
	if err != nil || line == 0 {
		return UTF8, err
	}
	return Windows1252, nil
}

// zeros counts the zero bytes at even or odd places.
func zeros(head []byte, from int) int {
	n := 0
	for i := from; i < len(head); i += 2 {
		if head[i] == 0 {
			n++
		}
	}
	return n
}

// firstNotUTF8 returns the line of the first byte that is not UTF-8, 0 if all
// are.
func firstNotUTF8(r io.Reader) (int, error) {
	line, buf, kept := 1, make([]byte, 64<<10), 0
	for {
		n, err := r.Read(buf[kept:])
		chunk := buf[:kept+n]
		for len(chunk) > 0 {
			if c := chunk[0]; c < utf8.RuneSelf {
				if c == '\n' {
					line++
				}
				chunk = chunk[1:]
				continue
			}
			if !utf8.FullRune(chunk) && err == nil {
				break
			}
			if _, size := utf8.DecodeRune(chunk); size > 1 {
				chunk = chunk[size:]
				continue
			}
			return line, nil
		}
		kept = copy(buf, chunk)
		if err == io.EOF {
			return 0, nil
		}
		if err != nil {
			return 0, err
		}
	}
}

// decoded reads the file as UTF-8 without a mark.
func (b *Book) decoded(name string) io.Reader {
	raw := io.NewSectionReader(b.src, 0, b.size)
	var e encoding.Encoding
	switch name {
	case UTF16LE:
		e = unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)
	case UTF16BE:
		e = unicode.UTF16(unicode.BigEndian, unicode.UseBOM)
	case Windows1252:
		e = charmap.Windows1252
	default:
		head := make([]byte, 3)
		if n, _ := raw.ReadAt(head, 0); n == 3 && string(head) == "\uFEFF" {
			return io.NewSectionReader(b.src, 3, b.size-3)
		}
		return raw // bytes that are not UTF-8 come through, and their rows are found wanting
	}
	return transform.NewReader(raw, e.NewDecoder())
}

// sepPrefix begins a first line by which some programs tell each other the
// delimiter.
const sepPrefix = "sep="

// text opens the rows of a text file.
func (b *Book) text() (*csvrows.Reader, error) {
	text := bufio.NewReaderSize(b.decoded(b.opts.Encoding), 64<<10)
	head, err := text.Peek(len(sepPrefix) + 2)
	if err != nil && err != io.EOF {
		return nil, err
	}
	r := csvrows.New(text, csvrows.Options{Delimiter: b.opts.Delimiter[0]})
	if toldDelimiter(head) != "" {
		_, _, err = r.Next() // passes over that line
		return r, err
	}
	return r, nil
}

// toldDelimiter reads "sep=;" on a line of its own; "" if there is none.
func toldDelimiter(head []byte) string {
	n := len(sepPrefix)
	if len(head) < n+2 || !strings.EqualFold(string(head[:n]), sepPrefix) || head[n+1] != '\r' && head[n+1] != '\n' {
		return ""
	}
	if d := string(head[n : n+1]); slices.Contains(Delimiters(), d) {
		return d
	}
	return ""
}

// findDelimiter takes the delimiter by which most of the first rows have the
// same number of cells as the widest of them; a comma if none divides anything.
func findDelimiter(head []byte) string {
	if told := toldDelimiter(head); told != "" {
		return told
	}
	best, most := ",", 0
	for _, d := range Delimiters() {
		if n := agreement(head, d[0]); n > most {
			best, most = d, n
		}
	}
	return best
}

// agreement scores a delimiter: rows that have the usual number of cells, times
// the cells beyond the first.
func agreement(head []byte, delimiter byte) int {
	r := csvrows.New(bytes.NewReader(head), csvrows.Options{Delimiter: delimiter})
	rows := map[int]int{}
	for range 50 {
		cells, _, err := r.Next()
		if err != nil {
			break
		}
		if strings.TrimSpace(strings.Join(cells, "")) != "" {
			rows[len(cells)]++
		}
	}
	best := 0
	for width, n := range rows {
		best = max(best, n*(width-1))
	}
	return best
}
