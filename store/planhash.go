package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// planHash is a digest of everything that the planner says about a boat, so
// that a plan that has not changed is recognised without reading its rows. The
// week, booking and telling of a visit are not the planner's and stay out.
func planHash(p *schedule.BoatPlan) [sha256.Size]byte {
	e := encoder{buf: make([]byte, 0, 4096)}
	e.num(int64(len(p.Items)))
	for i := range p.Items {
		e.item(&p.Items[i])
	}
	e.num(int64(len(p.Visits)))
	for i := range p.Visits {
		e.visit(&p.Visits[i])
	}
	e.list(p.Problems)
	return sha256.Sum256(e.buf)
}

// encoder writes values so that no two different lists of them look the same.
type encoder struct{ buf []byte }

func (e *encoder) num(n int64) { e.buf = binary.AppendVarint(e.buf, n) }

func (e *encoder) nums(ns ...int64) {
	for _, n := range ns {
		e.num(n)
	}
}

func (e *encoder) text(s string) {
	e.num(int64(len(s)))
	e.buf = append(e.buf, s...)
}

func (e *encoder) list(ss []string) {
	e.num(int64(len(ss)))
	for _, s := range ss {
		e.text(s)
	}
}

func (e *encoder) item(it *schedule.DueItem) {
	for _, s := range [...]string{it.BoatID, it.ComponentID, it.Rule, it.Service, string(it.Basis), it.LastBy, it.LastVia,
		it.StartsFrom, it.Overridden, it.VisitID, it.CoveredBy} {
		e.text(s)
	}
	e.nums(int64(it.Season), int64(it.Due), int64(it.Open), int64(it.Close), int64(it.LastDay), int64(it.LastHours),
		kernel.BoolArg(it.HasLastHours), int64(it.Months), int64(it.Hours), int64(it.ByDate), int64(it.ByHours),
		int64(it.HoursMedian), int64(it.HoursLate), int64(it.HoursAt), int64(it.Duty), kernel.BoolArg(it.ByCustomer), kernel.BoolArg(it.InWinter), kernel.BoolArg(it.MissedLast),
		int64(it.Labour), int64(it.Price))
}

func (e *encoder) visit(v *schedule.Visit) {
	for _, s := range [...]string{v.ID, v.BoatID, v.Kind} {
		e.text(s)
	}
	e.nums(int64(v.Season), int64(v.Open), int64(v.Close), int64(v.Day), int64(v.Deadline), int64(v.Last), kernel.BoolArg(v.Lapsed), int64(v.Labour), int64(v.Yard), int64(v.Lifts),
		int64(v.Price), int64(v.Priority))
	e.list(v.Items)
}

// sameVisit reports whether the planner says the same about two visits.
func sameVisit(a, b *schedule.Visit) bool {
	var x, y encoder
	x.visit(a)
	y.visit(b)
	return bytes.Equal(x.buf, y.buf)
}
