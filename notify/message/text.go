package message

import (
	"strings"
	"unicode/utf8"
)

// textWidth keeps plain text readable where it is not reflowed.
const textWidth = 72

// plainText sets the content as plain text.
func plainText(c *content) string {
	var p textPage
	if c.Heading != "" {
		p.heading(c.Heading)
	}
	if c.Greeting != "" {
		p.para(c.Greeting)
	}
	for _, s := range c.Intro {
		p.para(s)
	}
	if len(c.Done) > 0 {
		p.heading(c.DoneTitle)
		p.lines(c.Done)
	}
	if c.NextTitle != "" {
		p.heading(c.NextTitle)
	}
	for i := range c.Boats {
		p.boat(&c.Boats[i])
	}
	for _, s := range c.Sections {
		if s.Title != "" {
			p.heading(s.Title)
		}
		for _, l := range s.Lines {
			p.b.WriteString(wrap(l.Text, "* ", "  ") + "\n  " + l.Link.Label + ":\n  " + l.Link.URL + "\n\n")
		}
	}
	if c.How != "" {
		p.para(c.How)
	}
	p.link(c.Button)
	p.link(c.More)
	if c.Phone != "" {
		p.para(c.Phone)
	}
	for _, s := range c.Sign {
		p.para(s)
	}
	p.rule('-')
	for _, s := range c.Small {
		p.para(s)
	}
	p.link(c.Stop)
	return strings.TrimRight(p.b.String(), "\n") + "\n"
}

// textPage collects paragraphs with a blank line between.
type textPage struct{ b strings.Builder }

func (p *textPage) para(s string) { p.b.WriteString(wrap(s, "", "") + "\n\n") }

func (p *textPage) rule(c byte) {
	p.b.WriteString(strings.Repeat(string(c), textWidth) + "\n\n")
}

func (p *textPage) heading(s string) {
	p.b.WriteString(s + "\n" + strings.Repeat("=", min(textWidth, utf8.RuneCountInString(s))) + "\n\n")
}

// link puts the address on a line of its own, where every reader finds it.
func (p *textPage) link(l Hyperlink) {
	if l.URL != "" {
		p.b.WriteString(l.Label + ":\n" + l.URL + "\n\n")
	}
}

func (p *textPage) boat(b *boatEntry) {
	p.heading(b.Name)
	for i := range b.Visits {
		v := &b.Visits[i]
		if v.Gutter != "" {
			p.b.WriteString(v.Gutter + " " + v.GutterDate + "\n")
		}
		p.b.WriteString(v.Title + "\n\n")
		for _, s := range v.Lead {
			p.para(s)
		}
		p.lines(v.Lines)
		for _, s := range v.Also {
			p.para(s)
		}
		if v.Cost != "" {
			p.para(v.Cost)
		}
		p.cautions(v)
	}
}

func (p *textPage) lines(lines []jobLine) {
	for i := range lines {
		l := &lines[i]
		head := l.Title
		if l.Note != "" {
			head += " (" + l.Note + ")"
		}
		p.b.WriteString(wrap(head, "* ", "  ") + "\n")
		for _, s := range []string{l.Why, l.Matters} {
			if s != "" {
				p.b.WriteString(wrap(s, "  ", "  ") + "\n")
			}
		}
		p.b.WriteString("\n")
	}
}

func (p *textPage) cautions(v *visitEntry) {
	if len(v.Cautions) == 0 {
		return
	}
	p.b.WriteString(v.CautionTitle + ":\n")
	for _, s := range v.Cautions {
		p.b.WriteString(wrap(s, "! ", "  ") + "\n")
	}
	p.b.WriteString("\n")
}

// wrap breaks a text into lines of textWidth characters; a longer word has a
// line to itself. It also joins what came with line ends of its own.
func wrap(s, first, rest string) string {
	var b strings.Builder
	b.WriteString(first)
	used, fresh := utf8.RuneCountInString(first), true
	for _, word := range strings.Fields(s) {
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
