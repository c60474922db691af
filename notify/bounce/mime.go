package bounce

import (
	"bytes"
	"encoding/base64"
	"io"
	"mime"
	"mime/quotedprintable"
	"regexp"
	"strings"
)

// Bounces are the worst-kept MIME there is: boundaries that nobody declared,
// header lines without a colon, line ends of all three kinds. So they are
// scanned, not parsed: whatever makes sense is taken, nothing is an error.

const (
	maxBounce = 1 << 20 // bytes that are looked at; a report comes long before
	maxText   = 1 << 16 // bytes of running text
	maxField  = 1 << 13 // bytes of an unfolded field
	maxParts  = 64      // parts at one level
	maxDepth  = 4
)

// fields are header fields by lower-case name, unfolded.
type fields map[string][]string

func (f fields) first(name string) string {
	if v := f[name]; len(v) > 0 {
		return v[0]
	}
	return ""
}

// mimePart is a message or one of its parts.
type mimePart struct {
	header    fields
	mediaType string // lower case; "text/plain" if none is given
	body      []byte // decoded
	parts     []mimePart
}

func (p *mimePart) first(name string) string { return p.header.first(name) }

// subject is the subject in plain characters, as far as they can be had.
func (p *mimePart) subject() string {
	given := p.first("subject")
	if s, err := new(mime.WordDecoder).DecodeHeader(given); err == nil {
		return s
	}
	return given
}

// scanPart reads header and body of a message or part at a depth; from
// maxDepth on its parts are left alone.
func scanPart(message []byte, depth int) *mimePart {
	if len(message) > maxBounce {
		message = message[:maxBounce]
	}
	head, body := splitHeader([]byte(lfOnly(message)))
	p := &mimePart{header: scanFields(head), mediaType: "text/plain"}
	given := p.first("content-type")
	kind, params, err := mime.ParseMediaType(given)
	if err != nil {
		kind, _, _ = strings.Cut(given, ";")
		kind = strings.ToLower(strings.TrimSpace(kind))
	}
	if kind != "" {
		p.mediaType = kind
	}
	boundary := params["boundary"]
	if boundary == "" {
		boundary = looseBoundary(given)
	}
	if !strings.HasPrefix(p.mediaType, "multipart/") || boundary == "" || depth >= maxDepth {
		p.body = decodeBody(body, p.first("content-transfer-encoding"))
		return p
	}
	for _, part := range splitParts(body, boundary) {
		p.parts = append(p.parts, *scanPart(part, depth+1))
	}
	if len(p.parts) == 0 { // a boundary that never occurs
		p.mediaType, p.body = "text/plain", body
	}
	return p
}

// boundaryName finds a boundary in whatever case of letters; a text in small letters
// may have other lengths than the text itself.
var boundaryName = regexp.MustCompile(`(?i)boundary=`)

// looseBoundary finds a boundary in a Content-Type that does not parse.
func looseBoundary(contentType string) string {
	at := boundaryName.FindStringIndex(contentType)
	if at == nil {
		return ""
	}
	rest := contentType[at[1]:]
	if quoted, ok := strings.CutPrefix(rest, `"`); ok {
		s, _, _ := strings.Cut(quoted, `"`)
		return s
	}
	s, _, _ := strings.Cut(rest, ";")
	return strings.TrimSpace(s)
}

// lfOnly makes every line end a bare line feed.
func lfOnly(b []byte) string {
	return strings.ReplaceAll(strings.ReplaceAll(string(b), "\r\n", "\n"), "\r", "\n")
}

// splitHeader cuts at the first blank line. A part may begin with it and have
// no header.
func splitHeader(b []byte) (head, body []byte) {
	if bytes.HasPrefix(b, []byte("\n")) {
		return nil, b[1:]
	}
	head, body, _ = bytes.Cut(b, []byte("\n\n"))
	return head, body
}

// scanFields unfolds header lines; a line that is none is passed over.
func scanFields(b []byte) fields {
	f := make(fields)
	name := ""
	for line := range strings.SplitSeq(lfOnly(b), "\n") {
		if line != "" && (line[0] == ' ' || line[0] == '\t') {
			if v := f[name]; name != "" && len(v) > 0 && len(v[len(v)-1]) < maxField {
				v[len(v)-1] += " " + strings.TrimSpace(line)
			}
			continue
		}
		key, value, ok := strings.Cut(line, ":")
		key = strings.ToLower(strings.TrimSpace(key))
		if !ok || key == "" || strings.ContainsAny(key, " \t") {
			name = ""
			continue
		}
		name = key
		f[name] = append(f[name], strings.TrimSpace(value[:min(len(value), maxField)]))
	}
	return f
}

// splitParts cuts a body at its boundary lines; the closing one may be missing.
func splitParts(body []byte, boundary string) [][]byte {
	var parts [][]byte
	open, start, at := false, 0, 0
	mark := []byte("--" + boundary)
	for at < len(body) && len(parts) < maxParts {
		end := bytes.IndexByte(body[at:], '\n')
		next := len(body)
		if end >= 0 {
			next = at + end + 1
		}
		line := bytes.TrimRight(body[at:next], " \t\n")
		if rest, ok := bytes.CutPrefix(line, mark); ok && (len(rest) == 0 || string(rest) == "--") {
			if open {
				parts = append(parts, body[start:at])
			}
			open, start = len(rest) == 0, next
		}
		at = next
	}
	if open && start < len(body) && len(parts) < maxParts {
		parts = append(parts, body[start:])
	}
	return parts
}

// decodeBody undoes a transfer encoding as far as it goes.
func decodeBody(body []byte, encoding string) []byte {
	var r io.Reader
	switch strings.ToLower(strings.TrimSpace(encoding)) {
	case "base64":
		clean := strings.Map(func(c rune) rune {
			if c <= ' ' {
				return -1
			}
			return c
		}, string(body))
		r = base64.NewDecoder(base64.StdEncoding, strings.NewReader(clean))
	case "quoted-printable":
		r = quotedprintable.NewReader(bytes.NewReader(body))
	default:
		return body
	}
	decoded, err := io.ReadAll(r)
	if err != nil && len(decoded) == 0 {
		return body
	}
	return decoded
}

// walk visits the part and all below it.
func (p *mimePart) walk(f func(*mimePart)) {
	f(p)
	for i := range p.parts {
		p.parts[i].walk(f)
	}
}

// find returns the first part of one of the media types, nil if there is none.
func (p *mimePart) find(types ...string) *mimePart {
	var found *mimePart
	p.walk(func(q *mimePart) {
		for _, t := range types {
			if found == nil && q.mediaType == t {
				found = q
			}
		}
	})
	return found
}

// inner finds the machine's part of a delivery report that something on its way
// wrapped into a message of its own, nil if there is none.
func (p *mimePart) inner() *mimePart {
	var found *mimePart
	p.walk(func(q *mimePart) {
		if q.mediaType != "message/rfc822" || found != nil {
			return
		}
		if m := scanPart(q.body, 1); m.mediaType == "multipart/report" {
			found = m.find("message/delivery-status", "message/global-delivery-status")
		}
	})
	return found
}

// text joins the plain text, or whatever text there is, up to maxText.
func (p *mimePart) text() []byte {
	var all []byte
	p.walk(func(q *mimePart) {
		if q.mediaType == "text/plain" {
			all = append(append(all, q.body...), '\n')
		}
	})
	if len(all) == 0 {
		p.walk(func(q *mimePart) {
			if strings.HasPrefix(q.mediaType, "text/") {
				all = append(append(all, q.body...), '\n')
			}
		})
	}
	return all[:min(len(all), maxText)]
}
