package columns_test

import (
	"fmt"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store/imports/columns"
)

// A row is written under the header and read back by the header that a file has.
func Example() {
	fmt.Println(strings.Join(columns.Customers.Cells(&schedule.Customer{ID: "C1", Name: "Ida Fen", Phone: "599-555-0101"}), ","))

	l := &columns.Line{File: columns.Customers.Name, No: 2, Shop: &columns.Shop{
		Fault: func(file string, line int, field, what string) {
			fmt.Printf("%s:%d: %s: %s\n", file, line, field, what)
		},
	}}
	layout, ok := columns.Customers.Bind(l, []string{"Name", "customer_id", "contact_by"})
	var c schedule.Customer
	layout.Read(l, []string{" Bram Teal ", "C2", "emai"}, &c)
	fmt.Println(ok, c.ID, c.Name)
	// Output:
	// C1,Ida Fen,,599-555-0101,,,,,,
	// customers.csv:2: contact_by: unknown word "emai"; did you mean "email"?
	// true C2 Bram Teal
}
