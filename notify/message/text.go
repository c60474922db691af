package message

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// textWidth keeps plain text readable where it is not reflowed.
const textWidth = 72

const noBreak = '\u00a0'

// plainText sets the content as plain text.
func plainText(c *content) string {
	p := textPage{colon: c.Colon}
	if c.Heading != "" {
		p.heading(c.Heading)
	}
	if c.Greeting != "" {
		p.para(c.Greeting)
	}
	p.para(c.Intro...)
	if len(c.Done) > 0 {
		p.heading(c.DoneTitle)
		p.list(c.Done)
	}
	if c.NextTitle != "" {
		p.heading(c.NextTitle)
	}
	for i := range c.Rows {
		p.row(&c.Rows[i])
	}
	for _, s := range c.Sections {
		if s.Title != "" {
			p.heading(s.Title)
		}
		for _, l := range s.Lines {
			p.b.WriteString(wrap(l.Text, "* ", "  ") + "\n")
			if l.Link.URL != "" {
				p.b.WriteString("  " + l.Link.Label + c.Colon + "\n  " + l.Link.URL + "\n")
			}
			p.b.WriteString("\n")
		}
	}
	p.link(c.Button)
	p.para(c.Why...)
	p.list(c.Jobs)
	for _, f := range c.Facts {
		p.b.WriteString(wrap(f.Label+c.Colon+" "+f.Text, "", "") + "\n")
		if f.URL != "" {
			p.b.WriteString(string(f.URL) + "\n")
		}
		p.b.WriteString("\n")
	}
	for _, s := range c.Safety {
		p.b.WriteString(wrap(s, "! ", "  ") + "\n\n")
	}
	p.link(c.More)
	if c.Call.Text != "" {
		p.para(c.Call.Label + c.Colon + " " + c.Call.Text)
	}
	p.para(c.Sign...)
	p.rule('-')
	p.para(c.Small...)
	p.link(c.Stop)
	return strings.TrimRight(p.b.String(), "\n") + "\n"
}

// textPage collects paragraphs with a blank line between.
type textPage struct {
	b     strings.Builder
	colon string
}

func (p *textPage) para(all ...string) {
	for _, s := range all {
		p.b.WriteString(wrap(s, "", "") + "\n\n")
	}
}

func (p *textPage) rule(c byte) {
	p.b.WriteString(strings.Repeat(string(c), textWidth) + "\n\n")
}

func (p *textPage) heading(s string) {
	p.b.WriteString(s + "\n" + strings.Repeat("=", min(textWidth, utf8.RuneCountInString(s))) + "\n\n")
}

// link puts the address on a line of its own, where every reader finds it.
func (p *textPage) link(l Hyperlink) {
	if l.URL != "" {
		p.b.WriteString(l.Label + p.colon + "\n" + l.URL + "\n\n")
	}
}

func (p *textPage) row(r *row) {
	p.b.WriteString(r.Boat + "\n" + wrap(r.Title, "", "") + "\n")
	facts := r.Facts
	if r.Gutter != "" {
		facts = append([]string{r.Gutter + " " + r.GutterDate}, facts...)
	}
	if len(facts) > 0 {
		p.b.WriteString(wrap(strings.Join(facts, " · "), "", "") + "\n")
	}
	p.b.WriteString("\n")
}

func (p *textPage) list(lines []string) {
	for _, s := range lines {
		p.b.WriteString(wrap(s, "* ", "  ") + "\n")
	}
	if len(lines) > 0 {
		p.b.WriteString("\n")
	}
}

// wrap breaks a text into lines of textWidth characters; a longer word has a
// line to itself, and a no-break space is none to break at. It also joins what
// came with line ends of its own.
func wrap(s, first, rest string) string {
	var b strings.Builder
	b.WriteString(first)
	used, fresh := utf8.RuneCountInString(first), true
	for _, word := range strings.FieldsFunc(s, func(r rune) bool { return unicode.IsSpace(r) && r != noBreak }) {
		n := utf8.RuneCountInString(word)
		switch {
		case fresh:
		case used+1+n > textWidth:
			b.WriteString("\n" + rest)
			used = utf8.RuneCountInString(rest)
		default:
			b.WriteByte(' ')
			used++
		}
		b.WriteString(word)
		used, fresh = used+n, false
	}
	return b.String()
}
