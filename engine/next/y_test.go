package next
import ("testing";"fmt";"slices";"maps";"whystone/engine";"time")
func BenchmarkY(b *testing.B){
 rs:=load(b); e:=engine.Prepare(rs); a:=New(e)
 cs:=demoCases(b,rs)
 for _,k:=range slices.Sorted(maps.Keys(cs)){ b.Run(k,func(b *testing.B){for b.Loop(){a.Next(cs[k],noon,Options{})}})}
 _=fmt.Sprint; _=time.Now
}
