package week

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// supplier is what is on order from one.
type supplier struct {
	Name   string // "" where nobody said
	Orders []store.PartOrder
	List   string // address of the list to print
	CSV    string
}

// suppliers groups orders; they come in order of supplier.
func suppliers(all []store.PartOrder) (out []supplier) {
	for _, o := range all {
		if n := len(out); n == 0 || out[n-1].Name != o.Supplier {
			q := "?" + url.Values{"supplier": {o.Supplier}}.Encode()
			out = append(out, supplier{Name: o.Supplier, List: "/parts/order" + q, CSV: "/parts/order.csv" + q})
		}
		s := &out[len(out)-1]
		s.Orders = append(s.Orders, o)
	}
	return out
}

// orderParts takes what the form orders, or notes what came in of an order.
func (s pages) orderParts(r *http.Request) (site.Response, error) {
	do, id, _ := strings.Cut(r.PostFormValue("do"), " ")
	back := site.OwnPath(cmp.Or(r.PostFormValue("back"), "/parts"))
	if do == "order" {
		orders, err := s.readOrders(r)
		note := words.Plural(len(orders), "part", "parts") + " on order."
		if err == nil {
			err = s.App.OrderParts(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), orders)
		}
		if all, ok := site.Refused(err); ok {
			return s.partsAgain(r, all)
		}
		return site.Response{To: back, Note: note}, err
	}
	n, err := strconv.ParseInt(id, 10, 64)
	if err != nil {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form is incomplete. Go back and press one of its buttons.")
	}
	note := ""
	switch do {
	case "received":
		note, err = "It is in stock.", s.App.ReceiveOrder(r.Context(), s.Now(), site.Actor(r), n, s.Today())
	case "not-received":
		note, err = "It is on order again.", s.App.ReceiveOrder(r.Context(), s.Now(), site.Actor(r), n, 0)
	case "cancel":
		note, err = "The order is taken back.", s.App.CancelOrder(r.Context(), s.Now(), site.Actor(r), n)
	default:
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form is incomplete. Go back and press one of its buttons.")
	}
	if errors.Is(err, store.ErrStale) || errors.Is(err, store.ErrNotFound) {
		note, err = "Somebody changed that order meanwhile. This is how it stands now.", nil
	}
	return site.Response{To: back, Note: note}, err
}

// readOrders reads the lines of the form that have a quantity.
func (s pages) readOrders(r *http.Request) ([]store.PartOrder, error) {
	if err := r.ParseForm(); err != nil {
		return nil, site.NewProblem(http.StatusBadRequest, "The form could not be read.")
	}
	var orders []store.PartOrder
	var wrong site.Refusals
	for i := 0; r.PostForm.Has(fmt.Sprint("code", i)); i++ {
		n := strconv.Itoa(i)
		text := strings.Replace(strings.TrimSpace(r.PostFormValue("quantity"+n)), ",", ".", 1)
		if text == "" || r.PostFormValue("take"+n) == "" {
			continue
		}
		o := store.PartOrder{Code: r.PostFormValue("code" + n), Name: r.PostFormValue("name" + n), Unit: r.PostFormValue("unit" + n),
			Supplier: words.OneLine(r.PostFormValue("supplier" + n)), Ordered: s.Today()}
		var err error
		if o.Quantity, err = strconv.ParseFloat(text, 64); err != nil || !(o.Quantity > 0 && o.Quantity < 1e6) {
			wrong.Add(site.At("quantity"+n, o.Name+": "+text+" is no quantity. Write it like 12 or 3.5."))
		}
		cost := strings.TrimSpace(r.PostFormValue("cost" + n))
		if o.Cost, err = measure.ParseCents(cmp.Or(cost, "0")); err != nil || o.Cost < 0 {
			wrong.Add(site.At("cost"+n, o.Name+": "+cost+" is no price. Write it like 9.50."))
		}
		orders = append(orders, o)
	}
	switch {
	case wrong != nil:
		return nil, wrong
	case orders == nil:
		return nil, site.Correct("Nothing is ticked. Tick what to order, with its quantity.")
	}
	return orders, nil
}

// orderListPage is what is on order from one supplier, to print or send.
type orderListPage struct {
	supplier
	Day   civil.Day
	Total measure.Cents // of what has a price
	Mail  string        // a mailto address with the list
}

func (s pages) orderList(r *http.Request) (site.Response, error) {
	of, err := s.onOrderFrom(r)
	if err != nil {
		return site.Response{}, err
	}
	p := orderListPage{supplier: of, Day: s.Today()}
	var text strings.Builder
	for _, o := range of.Orders {
		p.Total += measure.Cents(math.Round(o.Quantity * float64(o.Cost)))
		fmt.Fprintf(&text, "%s %s  %s  %s\r\n", words.Decimals(o.Quantity), o.Unit, o.Code, o.Name)
	}
	p.Mail = "mailto:?" + strings.ReplaceAll(url.Values{"subject": {"Order, " + s.App.Config.Shop.Name}, "body": {text.String()}}.Encode(), "+", "%20")
	return site.Response{Page: "parts-order.html", Data: &p}, nil
}

// onOrderFrom is what is on order from the supplier that a request names.
func (s pages) onOrderFrom(r *http.Request) (supplier, error) {
	all, err := s.App.DB.OpenOrders(r.Context())
	if err != nil {
		return supplier{}, err
	}
	every := suppliers(all)
	i := slices.IndexFunc(every, func(x supplier) bool { return x.Name == r.FormValue("supplier") })
	if i < 0 {
		return supplier{}, site.NotFound("Nothing is on order from that supplier: it came in, or was taken back.")
	}
	return every[i], nil
}

// orderCSV answers with the list as a file.
func (s pages) orderCSV(w http.ResponseWriter, r *http.Request) {
	of, err := s.onOrderFrom(r)
	if err != nil {
		s.Fail(w, r, err)
		return
	}
	var buf bytes.Buffer
	out := csv.NewWriter(&buf)
	out.UseCRLF = true
	rows := [][]string{{"Code", "Part", "Quantity", "Unit", "Each", "Ordered"}}
	for _, o := range of.Orders {
		each := ""
		if o.Cost > 0 {
			each = o.Cost.String()
		}
		rows = append(rows, []string{words.Harmless(o.Code), words.Harmless(o.Name), words.Decimals(o.Quantity), o.Unit, each, o.Ordered.String()})
	}
	if err := out.WriteAll(rows); err != nil {
		s.Fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
	w.Header().Set("Content-Disposition", `attachment; filename="order-`+s.Today().String()+`.csv"`)
	w.Header().Set("Cache-Control", "no-store")
	w.Write(buf.Bytes())
}
