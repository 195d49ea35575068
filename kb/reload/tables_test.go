package reload

import (
	"strings"
	"testing"
)

// TestTableFile: a CSV file that holds a table's rows is followed like any other, and told of by its own line.
func TestTableFile(t *testing.T) {
	r := newRig(t)
	r.write("t.yaml", "format: 1\ntables: [{table: t, says: x, source: invented, columns: [finish], rows_from: "+
		"rows.csv}]\n")
	r.write("rows.csv", "row,finish,says,cautions\na,matt,first,x\n")
	r.start(slow(), openNotifier)
	r.becomes("a=first t-a=first")
	r.save("rows.csv", "row,finish,says,cautions\na,matt,second,x\nb,glossy,third,x\n")
	r.becomes("a=first t-a=second t-b=third")
	r.save("rows.csv", "row,finish,says,cautions\na,mat,second,x\n")
	s := r.staleWith(`finish has no outcome "mat"`)
	if at := s.Why[0].Span.String(); at != "house/rows.csv:2:3" || !strings.Contains(s.Why[0].Nearest, "matt") {
		t.Errorf("it stands at %s: %v", at, s.Why)
	}
	r.remove("rows.csv")
	r.staleWith(`no CSV file "rows.csv"`)
	r.save("rows.csv", "row,finish,says,cautions\na,matt,fourth,x\n")
	r.becomes("a=first t-a=fourth")
}
