package imports_test

import (
	"fmt"
	"strings"
	"testing"

	"bellbuoy/store/imports"
)

// Who and which boat a row means is decided from all rows, in any order.
func TestRowsMeanOneOrTwo(t *testing.T) {
	const head = "Owner,Email,Boat,Make,Model,HIN,Reg\n"
	for _, tt := range []struct {
		name, rows       string
		customers, boats int
		returned         string // a piece of the reason, "" if nothing comes back
	}{
		{"an address on one row and none on the other", "Paz Weir,,Tern,Tarnmoor,Skiff,,\nPaz Weir,paz@example.org,Tern,Tarnmoor,Skiff,,\n", 1, 1, ""},
		{"a double blank", "Paz  Weir,paz@example.org,Tern,Tarnmoor,Skiff,,\nPaz Weir,PAZ@example.org,Tern,Tarnmoor,Skiff,,\n", 1, 1, ""},
		{"two addresses and nothing in common but the name", "Paz Weir,paz@example.org,Tern,Tarnmoor,Skiff,,\nPaz Weir,weir@example.org,Gull,Tarnmoor,Raft,,\n", 2, 2, ""},
		{"two addresses and one hull number", "Paz Weir,paz@example.org,,Tarnmoor,Skiff,QXB00001C304,\nPaz Weir,weir@example.org,,Tarnmoor,Skiff,QXB00001C304,\n", 1, 1, ""},
		{"one address and two names", "Paz Weir,paz@example.org,Tern,Tarnmoor,Skiff,,\nUli Weir,paz@example.org,Gull,Tarnmoor,Raft,,\n", 2, 2, ""},
		{"a name that two bear, known by the boat", "Paz Weir,paz@example.org,Tern,Tarnmoor,Skiff,,\nPaz Weir,weir@example.org,Gull,Tarnmoor,Raft,,\nPaz Weir,,Gull,,,,\n", 2, 2, ""},
		{"a name that two bear, and nothing else", "Paz Weir,paz@example.org,Tern,Tarnmoor,Skiff,,\nPaz Weir,weir@example.org,Gull,Tarnmoor,Raft,,\nPaz Weir,,Heron,,,,\n", 2, 2, "2 customers are called"},
		{"a hull number on one row only", "Paz Weir,paz@example.org,,Tarnmoor,Skiff,,\nPaz Weir,paz@example.org,,Tarnmoor,Skiff,QXB00001C304,\n", 1, 1, ""},
		{"a name on one row and a number on the other", "Paz Weir,paz@example.org,Tern,Tarnmoor,Skiff,,\nPaz Weir,paz@example.org,,Tarnmoor,Skiff,,NY1234KX\n", 1, 1, ""},
		{"two hull numbers", "Paz Weir,paz@example.org,Tern,Tarnmoor,Skiff,QXB00002C304,\nPaz Weir,paz@example.org,Tern,Tarnmoor,Skiff,QXB00001C304,\n", 1, 2, ""},
		{"which of two of one make", "Paz Weir,paz@example.org,,Tarnmoor,Skiff,QXB00002C304,\nPaz Weir,paz@example.org,,Tarnmoor,Skiff,QXB00001C304,\nPaz Weir,paz@example.org,,Tarnmoor,Skiff,,\n", 1, 2, "has 2 boats that this may be"},
		{"one name, another make", "Paz Weir,paz@example.org,Tern,Tarnmoor,Skiff,,\nPaz Weir,paz@example.org,Tern,Brackenhull,Pike,,\n", 1, 2, ""},
		{"one registration, two hull numbers", "Paz Weir,paz@example.org,,Tarnmoor,Skiff,QXB00002C304,NY1234KX\nPaz Weir,paz@example.org,,Tarnmoor,Skiff,QXB00001C304,NY1234KX\n", 1, 2, ""},
	} {
		for _, reversed := range []bool{false, true} {
			t.Run(fmt.Sprint(tt.name, map[bool]string{true: ", the other way round"}[reversed]), func(t *testing.T) {
				rows := strings.SplitAfter(strings.TrimSuffix(tt.rows, "\n")+"\n", "\n")
				rows = rows[:len(rows)-1]
				if reversed {
					for i, j := 0, len(rows)-1; i < j; i, j = i+1, j-1 {
						rows[i], rows[j] = rows[j], rows[i]
					}
				}
				db := open(t)
				rep := intakeMapped(t, db, numbersMapping, "boats.csv", head+strings.Join(rows, ""), imports.MappedOptions{AcceptGood: true})
				customers, err := db.Customers(t.Context(), "", 100)
				if err != nil {
					t.Fatal(err)
				}
				if boats := allBoats(t, db); len(customers) != tt.customers || len(boats) != tt.boats {
					t.Errorf("%d customers and %d boats, want %d and %d: %v", len(customers), len(boats), tt.customers, tt.boats, rep.Listed)
				}
				if tt.returned == "" && rep.Returned > 0 || tt.returned != "" && (rep.Returned != 1 || !strings.Contains(rep.Listed[0].Reason, tt.returned)) {
					t.Errorf("came back: %v, want %q", rep.Listed, tt.returned)
				}
			})
		}
	}
}

// Customers whom rows reach in several ways are listed with what they share; the
// next import, to which they are known, lists who is joined by itself only.
func TestJoinedCustomersAreListed(t *testing.T) {
	db := open(t)
	rep := intakeMapped(t, db, numbersMapping, "boats.csv", "Owner,Email,Boat,Make,Model,HIN,Reg\n"+
		"Paz Weir,paz@example.org,,Tarnmoor,Skiff,QXB00001C304,\nPaz Weir,weir@example.org,,Tarnmoor,Skiff,QXB00001C304,\nUli Fen,uli@example.org,Gull,Tarnmoor,Raft,,\n", imports.MappedOptions{})
	if len(rep.Joined) != 1 || rep.JoinedAll != 1 || fmt.Sprint(rep.Joined[0].Ways, rep.Joined[0].Why) != "[paz@example.org weir@example.org] [same hull number]" {
		t.Errorf("listed %+v", rep.Joined)
	}
	intakeMapped(t, db, numbersMapping, "boats.csv", "Owner,Email,Boat,Make,Model,HIN,Reg\nPaz Weir,other@example.org,Swan,Tarnmoor,Raft,,\n", imports.MappedOptions{})
	if customers, err := db.Customers(t.Context(), "", 100); err != nil || len(customers) != 3 {
		t.Errorf("a name alone joined a customer on file: %v, %v", customers, err)
	}
}
