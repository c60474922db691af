package store
import ("testing";"path/filepath";"context")
func BenchmarkZZ(b *testing.B){
 db,err:=Open(context.Background(), filepath.Join(b.TempDir(),"x.db")); if err!=nil{b.Fatal(err)}
 defer db.Close()
 db.write.Exec("INSERT INTO feeds(scope,subject,generation,changed_at) VALUES('desk','',1,5)")
 ctx,c:=context.WithCancel(context.Background()); defer c()
 b.Run("now",func(b *testing.B){for b.Loop(){ if _,err:=db.FeedState(ctx,"desk","");err!=nil{b.Fatal(err)}}})
 st,err:=db.read.Prepare("SELECT generation, changed_at FROM feeds WHERE scope = ? AND subject = ?"); if err!=nil{b.Fatal(err)}
 b.Run("prepared",func(b *testing.B){for b.Loop(){ var g,ch int64; if err:=st.QueryRowContext(ctx,"desk","").Scan(&g,&ch);err!=nil{b.Fatal(err)}}})
 b.Run("prepared-bg",func(b *testing.B){for b.Loop(){ var g,ch int64; if err:=st.QueryRow("desk","").Scan(&g,&ch);err!=nil{b.Fatal(err)}}})
}
