"""Words of headings and statuses in Hungarian, Romanian, Turkish, Greek, Korean and Chinese.

`header_words.py` holds those of the other languages, and joins these to them.
"""

FIELDS: dict[str, tuple[str, ...]] = {
    "venue": (
        "helyszín", "árverező ház", "aukciósház", "piactér", "csatorna", "casa de licitații",
        "canal de vânzare", "platformă", "müzayede evi", "pazar yeri", "satış kanalı", "οίκος δημοπρασιών",
        "πλατφόρμα", "κανάλι", "판매처", "경매사", "판매채널", "플랫폼", "拍賣行", "拍卖行", "銷售渠道",
        "销售渠道", "平台", "門市",
    ),
    "sale_ref": (
        "árverés", "árverés száma", "aukció", "aukció száma", "rendelésszám", "rendelés",
        "rendelés azonosító", "számlaszám", "bizonylat", "bizonylatszám", "nyugtaszám", "tranzakció",
        "tranzakció azonosító", "licitație", "nr licitație", "comandă", "nr comandă", "număr comandă",
        "factură", "nr factură", "număr factură", "bon", "nr bon", "bon fiscal", "tranzacție",
        "id tranzacție", "chitanță", "müzayede", "müzayede no", "sipariş", "sipariş no", "sipariş numarası",
        "fiş no", "fiş numarası", "fatura", "fatura no", "fatura numarası", "işlem no", "belge no",
        "satış no", "δημοπρασία", "αρ δημοπρασίας", "παραγγελία", "αρ παραγγελίας", "αριθμός παραγγελίας",
        "τιμολόγιο", "αρ τιμολογίου", "απόδειξη", "αρ απόδειξης", "παραστατικό", "αρ παραστατικού",
        "αριθμός παραστατικού", "κωδικός συναλλαγής", "αρ συναλλαγής", "경매", "경매회차", "회차",
        "주문번호", "거래번호", "주문", "송장번호", "영수증번호", "전표번호", "拍賣會", "拍卖会", "場次",
        "场次", "訂單號", "订单号", "訂單編號", "订单编号", "發票號碼", "发票号码", "單號", "单号",
        "交易編號", "交易编号", "交易號", "交易号", "voucher", "voucher no", "vch no", "bill no",
        "bill number", "invoice number", "id transação", "id transacao", "nº transação",
        "código da transação", "nota fiscal", "nº nota", "bilagsnr", "bilag", "tosite", "tositenro",
        "doklad", "číslo dokladu",
    ),
    "lot_ref": (
        "tétel", "tételszám", "tétel száma", "sorszám", "hirdetés azonosító", "hirdetésazonosító",
        "hirdetés száma", "cikkszám hirdetés", "nr lot", "lotul", "număr lot", "poziție", "nr crt",
        "id anunț", "nr anunț", "lot no", "lot numarası", "sıra no", "ilan no", "ilan numarası", "λαχνός",
        "αρ λαχνού", "λοτ", "α α", "αρ αγγελίας", "κωδικός αγγελίας", "로트", "로트번호", "출품번호",
        "경매번호", "상품번호", "물품번호", "번호", "拍品編號", "拍品编号", "拍品號", "拍品号", "圖錄號",
        "图录号", "編號", "编号", "商品編號", "商品编号", "刊登編號", "item no", "sr no", "serial no",
        "nº do lote", "número do lote", "kat nr", "katalogtal", "luettelonumero",
    ),
    "stock_ref": (
        "cikkszám", "leltári szám", "raktári szám", "készletszám", "termékkód", "cod produs", "cod articol",
        "cod intern", "cod stoc", "nr inventar", "stok kodu", "stok no", "ürün kodu", "barkod",
        "envanter no", "κωδικός", "κωδικός είδους", "κωδικός προϊόντος", "αρ αποθέματος", "재고번호",
        "상품코드", "관리번호", "품번", "위탁번호", "庫存編號", "库存编号", "貨號", "货号", "商品貨號",
        "寄售單號", "寄售单号", "寄售編號", "寄售编号", "ev číslo", "evidenční číslo", "inventární číslo",
        "código do produto", "cód produto", "lagernr", "varasto nro",
    ),
    "title": (
        "megnevezés", "leírás", "cím", "hirdetés címe", "termék", "termék neve", "terméknév", "tárgy",
        "cipő", "áru megnevezése", "tétel megnevezése", "tétel leírása", "cikk", "cikk megnevezése",
        "denumire", "denumire produs", "denumirea produsului", "descriere", "titlu", "titlu anunț",
        "produs", "articol", "obiect", "pantofi", "ürün", "ürün adı", "açıklama", "tanım", "başlık",
        "ilan başlığı", "eser", "eser adı", "stok adı", "mal hizmet", "cinsi", "ayakkabı", "περιγραφή",
        "περιγραφή είδους", "τίτλος", "τίτλος αγγελίας", "είδος", "προϊόν", "ονομασία", "παπούτσι",
        "αντικείμενο", "상품명", "품명", "제목", "물품명", "상품", "제품명", "설명", "출품명", "내용",
        "商品", "商品名稱", "商品名称", "品名", "拍品", "拍品名稱", "拍品名称", "標題", "标题", "名稱",
        "名称", "描述", "物品", "物品名稱", "鞋款", "particulars", "item particulars", "item details",
        "buchungstext", "beschreibung der ware", "bilagstekst", "selite", "produto", "descrição do produto",
    ),
    "notes": (
        "megjegyzés", "megjegyzések", "jegyzet", "observații", "observatii", "mențiuni", "notlar",
        "açıklamalar", "dipnot", "παρατηρήσεις", "σημειώσεις", "σχόλια", "비고", "메모", "특이사항", "備註",
        "备注", "附註", "說明", "remarks",
    ),
    "status": (
        "állapota", "eredmény", "árverés eredménye", "státusz", "státus", "kimenetel", "rendelés állapota",
        "hirdetés állapota", "eladva", "situație", "situația", "stadiu", "starea comenzii", "stare comandă",
        "stare anunț", "rezultat", "vândut", "durum", "durumu", "sonuç", "sipariş durumu", "satış durumu",
        "ilan durumu", "satıldı mı", "κατάσταση παραγγελίας", "κατάσταση πώλησης", "κατάσταση αγγελίας",
        "αποτέλεσμα", "έκβαση", "κατάσταση", "상태", "거래상태", "판매상태", "주문상태", "결과", "낙찰여부",
        "진행상태", "경매결과", "狀態", "状态", "結果", "结果", "交易狀態", "交易状态", "訂單狀態",
        "订单状态", "成交狀態", "成交结果", "成交結果", "銷售狀態", "situação", "situação do lote",
        "situação do pedido", "situação da venda", "tilanne", "udfald",
    ),
    "offered_on": (
        "feladva", "feladás dátuma", "feladás napja", "meghirdetve", "hirdetés kelte", "közzétéve",
        "átvétel napja", "kezdete", "data publicării", "publicat", "publicat la", "data listării",
        "listat la", "data primirii", "data recepției", "în vânzare din", "data începerii", "ilan tarihi",
        "listeleme tarihi", "satışa çıkış", "satışa çıkış tarihi", "başlangıç tarihi", "yayın tarihi",
        "ημερομηνία καταχώρισης", "ημερομηνία δημοσίευσης", "ημ νία καταχώρισης", "έναρξη",
        "ημερομηνία έναρξης", "αναρτήθηκε", "등록일", "등록일자", "판매시작일", "게시일", "시작일",
        "출품일", "입고일", "上架日", "上架日期", "上架時間", "上架时间", "刊登日期", "刊登日", "刊登時間",
        "開始日期", "开始日期", "開始時間", "data de anúncio", "anunciado em", "indleveret", "myyntiin",
    ),
    "closed_on": (
        "dátum", "nap", "árverés napja", "árverés dátuma", "árverés ideje", "aukció napja", "aukció dátuma",
        "lezárva", "lezárás", "lezárult", "zárás", "befejezés", "vége", "lejárat", "data",
        "data licitației", "data închiderii", "închis la", "încheiat la", "data finală", "sfârșit", "tarih",
        "müzayede tarihi", "bitiş tarihi", "kapanış", "kapanış tarihi", "bitiş", "sona erme", "ημερομηνία",
        "ημ νία", "ημερομηνία δημοπρασίας", "ημ νία δημοπρασίας", "λήξη", "ημερομηνία λήξης",
        "ολοκληρώθηκε", "경매일", "경매일자", "종료일", "마감일", "일자", "날짜", "낙찰일", "종료일시",
        "日期", "拍賣日期", "拍卖日期", "拍賣日", "結標時間", "結標日期", "结标时间", "結束時間",
        "结束时间", "結束日期", "截標時間", "截標日", "下架日", "data do leilão", "data do pregão",
        "data de encerramento", "dražba dne", "auktionsdag",
    ),
    "sold_on": (
        "eladva", "eladás napja", "eladás dátuma", "értékesítés napja", "értékesítés dátuma",
        "vásárlás napja", "kelt", "rendelés dátuma", "rendelés napja", "számla kelte", "teljesítés",
        "teljesítés dátuma", "data vânzării", "data vanzarii", "vândut la", "data comenzii",
        "data facturii", "data tranzacției", "data bonului", "satış tarihi", "satıldığı tarih",
        "sipariş tarihi", "fatura tarihi", "fiş tarihi", "işlem tarihi", "ημερομηνία πώλησης",
        "ημ νία πώλησης", "πωλήθηκε", "πωλήθηκε στις", "ημερομηνία παραγγελίας", "ημερομηνία τιμολογίου",
        "ημερομηνία συναλλαγής", "ημερομηνία έκδοσης", "판매일", "판매일자", "판매일시", "거래일",
        "거래일시", "주문일", "주문일시", "구매확정일", "구매일", "거래완료일", "판매완료일", "매출일",
        "售出日", "售出日期", "銷售日期", "销售日期", "成交日", "成交日期", "成交時間", "成交时间",
        "交易日期", "交易時間", "交易时间", "訂單日期", "订单日期", "下單時間", "下单时间", "出售日期",
        "售出時間", "voucher date", "vch date", "bill date", "data venda", "data da compra", "bilagsdato",
        "solgt", "tosite pvm", "datum prodeje", "datum dokladu",
    ),
    "currency": (
        "pénznem", "deviza", "monedă", "moneda", "valută", "para birimi", "döviz", "döviz cinsi", "νόμισμα",
        "통화", "화폐", "貨幣", "货币", "幣別", "币别", "幣種", "币种",
    ),
    "maker": (
        "márka", "gyártó", "marcă", "marca", "producător", "marka", "üretici", "μάρκα", "κατασκευαστής",
        "브랜드", "제조사", "品牌", "廠牌", "制造商", "製造商",
    ),
    "silhouette": (
        "modell", "model", "μοντέλο", "모델", "모델명", "型號", "型号", "款式",
    ),
    "colourway": (
        "szín", "culoare", "renk", "χρώμα", "색상", "컬러", "顏色", "颜色", "配色", "色", "odstín",
    ),
    "era": (
        "évjárat", "gyártás éve", "gyártási év", "széria", "an", "an fabricație", "anul producției",
        "dönem", "üretim yılı", "seri", "έτος", "έτος παραγωγής", "εποχή", "σειρά", "연식", "제조년도",
        "생산년도", "시대", "年份", "年代", "生產年份", "生产年份", "出產年份",
    ),
    "size_label": (
        "méret", "cipőméret", "eu méret", "méret eu", "lábméret", "mărime", "marime", "măsură", "mărime eu",
        "număr pantofi", "numara", "beden", "ayakkabı numarası", "ayakkabı no", "νούμερο", "μέγεθος",
        "ν παπουτσιού", "사이즈", "치수", "신발사이즈", "발길이", "尺碼", "尺码", "尺寸", "鞋碼", "鞋码",
        "號碼", "鞋長", "鞋长", "腳長", "脚长", "numeração", "numeração br",
    ),
    "size_system": (
        "méretrendszer", "sistem mărime", "numara sistemi", "σύστημα μεγέθους", "사이즈체계", "尺碼制",
    ),
    "grade": (
        "állapot", "minősítés", "kondíció", "viseltesség", "stare", "starea", "starea produsului",
        "condiție", "grad", "kondisyon", "ürün durumu", "kullanım durumu", "kozmetik", "yıpranma",
        "κατάσταση", "κατάσταση προϊόντος", "βαθμός", "βαθμολογία", "상태등급", "등급", "컨디션",
        "상품상태", "제품상태", "品相", "成色", "新舊程度", "新旧程度", "等級", "等级", "品況", "品况",
        "商品狀況",
    ),
    "box": (
        "doboz", "cutie", "kutu", "κουτί", "박스", "상자", "盒", "鞋盒", "原盒", "盒子",
    ),
    "tags": (
        "címke", "etichetă", "etichete", "etiket", "ετικέτα", "ετικέτες", "택", "태그", "吊牌",
    ),
    "parts": (
        "tartozékok", "accesorii", "aksesuar", "aksesuarlar", "αξεσουάρ", "구성품", "부속품", "配件",
        "附件",
    ),
    "defects": (
        "hibák", "sérülés", "defecte", "kusur", "kusurlar", "hasar", "ελαττώματα", "φθορές", "하자", "결함",
        "瑕疵", "缺陷",
    ),
    "treatments": (
        "felújítás", "restaurálás", "restaurare", "restorasyon", "αποκατάσταση", "복원", "수선", "修復",
        "修复", "維修",
    ),
    "stamp_text": (
        "bélyegző", "ștampilă", "damga", "σφραγίδα", "라벨", "각인", "標籤", "标签", "鞋標",
    ),
}  # fmt: skip
"""Field of a sale record → more words for it."""

AMOUNTS: dict[str, tuple[str, ...]] = {
    "hammer": (
        "leütési ár", "leütés", "leütött ár", "kalapácsár", "preț de adjudecare", "preț adjudecare",
        "adjudecat la", "preț ciocan", "adjudecare", "çekiç fiyatı", "çekiç bedeli", "çekiç",
        "τιμή κατακύρωσης", "κατακύρωση", "τιμή σφυριού", "낙찰가", "낙찰가격", "낙찰금액", "해머가",
        "落槌價", "落槌价", "落槌", "落鎚價", "成交槌價", "valor do martelo", "valor arrematado",
        "valor do lance vencedor", "lance vencedor", "lance final", "příklepová cena",
    ),
    "price": (
        "ár", "eladási ár", "eladás ára", "vételár", "végső ár", "végár", "egységár", "összeg",
        "eladva ennyiért", "bevétel", "értékesítési ár", "bruttó ár ft", "kifizetett ár", "nyertes licit",
        "preț", "preț vânzare", "preț de vânzare", "preț final", "preț unitar", "sumă", "valoare",
        "valoare vânzare", "vândut cu", "încasat", "fiyat", "satış fiyatı", "satış bedeli", "satış tutarı",
        "son fiyat", "birim fiyat", "birim fiyatı", "tutar", "satır tutarı", "bedel", "kazanan teklif",
        "τιμή", "τιμή πώλησης", "τελική τιμή", "τιμή μονάδας", "αξία", "ποσό", "ποσό πώλησης",
        "πωλήθηκε για", "가격", "판매가", "판매가격", "판매금액", "거래금액", "거래가", "금액", "단가",
        "결제금액", "최종가", "매출액", "상품금액", "價格", "价格", "售價", "售价", "成交價", "成交价",
        "成交金額", "成交金额", "售出價", "售出价", "銷售金額", "销售金额", "單價", "单价", "金額", "金额",
        "實收", "得標價", "得标价", "最終價", "最终价", "taxable amount", "haben", "valor da transação",
        "valor vendido", "habere", "myyntihinta", "myydyn hinta",
    ),
    "total": (
        "összesen", "végösszeg", "fizetendő", "számla összege", "rendelés összege", "total",
        "total general", "total de plată", "total comandă", "total factură", "de plată", "toplam",
        "genel toplam", "toplam tutar", "ödenecek tutar", "fatura toplamı", "σύνολο", "γενικό σύνολο",
        "συνολικό ποσό", "πληρωτέο", "πληρωτέο ποσό", "σύνολο παραγγελίας", "합계", "총액", "총금액",
        "총결제금액", "주문금액", "合計", "总计", "總計", "總額", "总额", "應付總額", "应付总额", "總金額",
        "总金额", "訂單金額", "订单金额", "應付金額", "bill value", "bill amount", "bill total",
        "total da nota",
    ),
    "all-in": (
        "vevő fizet", "vevő által fizetett", "vevő összesen", "jutalékkal együtt", "preț cu comision",
        "total cumpărător", "preț final cu comision", "plătit de cumpărător", "alıcının ödediği",
        "alıcı toplam", "komisyon dahil", "alıcı ödemesi", "τιμή με προμήθεια", "τελικό με προμήθεια",
        "σύνολο αγοραστή", "수수료포함", "구매자결제금액", "구매자부담총액", "含佣金", "含佣價",
        "含佣成交價", "買家總付", "买家总付", "買家應付", "买家应付", "total do arrematante",
        "total pago pelo comprador", "købers pris i alt",
    ),
    "gross": (
        "bruttó", "bruttó ár", "bruttó összeg", "áfával", "áfás ár", "brut", "preț cu tva", "cu tva",
        "tva inclus", "valoare cu tva", "kdv dahil", "kdv li", "kdv dahil fiyat", "kdv dahil tutar", "brüt",
        "με φπα", "συμπεριλαμβανομένου φπα", "συνολική αξία", "αξία με φπα", "μικτή αξία", "τελική αξία",
        "부가세포함", "vat포함", "세금포함", "含稅", "含税", "含稅價", "含税价", "含稅金額", "含税金额",
        "incl gst", "including gst", "inclusive of gst", "bruttopris",
    ),
    "net of tax": (
        "nettó", "nettó ár", "nettó összeg", "áfa nélkül", "adóalap", "preț fără tva", "fără tva",
        "valoare fără tva", "bază impozabilă", "kdv hariç", "kdv siz", "matrah", "kdv matrahı",
        "καθαρή αξία", "χωρίς φπα", "προ φπα", "αξία χωρίς φπα", "공급가액", "공급가", "부가세별도", "未稅",
        "未税", "不含稅", "不含税", "稅前", "税前", "taxable value", "excl gst", "before gst",
        "valor sem impostos",
    ),
    "tax": (
        "áfa", "áfa összege", "áfa tartalom", "valoare tva", "sumă tva", "din care tva", "kdv",
        "kdv tutarı", "vergi", "φπα", "ποσό φπα", "αξία φπα", "부가세", "부가가치세", "세액", "稅額",
        "税额", "稅金", "營業稅", "增值稅", "增值税", "cgst", "sgst", "igst", "gst amount", "tax collected",
        "icms", "imposto sobre venda", "iss",
    ),
    "premium": (
        "vételi jutalék", "vevői jutalék", "árverési jutalék", "vásárlói jutalék", "comision cumpărător",
        "comisionul cumpărătorului", "comision licitație", "primă cumpărător", "alıcı komisyonu",
        "alıcı primi", "müzayede komisyonu", "προμήθεια αγοραστή", "προμήθεια δημοπρασίας",
        "προμήθεια οίκου", "구매수수료", "낙찰수수료", "구매자수수료", "買家佣金", "买家佣金", "買方佣金",
        "买方佣金", "買家服務費", "落槌佣金", "comissão do leiloeiro", "købers salær", "køberens salær",
    ),
    "commission": (
        "jutalék", "eladói jutalék", "beadói jutalék", "bizományosi jutalék", "bizományi díj",
        "közvetítői díj", "díj", "kezelési költség", "levonás", "comision", "comision vânzător",
        "comision consignație", "comision vânzare", "taxă", "reținere", "komisyon", "satış komisyonu",
        "satıcı komisyonu", "hizmet bedeli", "kesinti", "προμήθεια", "προμήθεια πωλητή",
        "προμήθεια πώλησης", "κράτηση", "έξοδα", "수수료", "판매수수료", "위탁수수료", "결제수수료", "공제",
        "佣金", "賣家佣金", "卖家佣金", "手續費", "手续费", "抽成", "服務費", "服务费", "平台費",
        "成交手續費", "寄售佣金", "tarifa do vendedor", "tarifa mercado", "sælgers salær",
        "indleverers salær",
    ),
    "postage": (
        "szállítás", "szállítási díj", "szállítási költség", "postaköltség", "posta", "transport",
        "livrare", "cost transport", "cost livrare", "taxă livrare", "kargo", "kargo ücreti",
        "kargo bedeli", "nakliye", "μεταφορικά", "έξοδα αποστολής", "αποστολή", "배송비", "택배비",
        "배송료", "運費", "运费", "郵費", "邮费", "frete", "valor do frete",
    ),
    "payout": (
        "kifizetés", "kifizetendő", "beadónak jár", "beadónak kifizetendő", "eladónak jár",
        "eladónak fizetendő", "utalt összeg", "átutalt összeg", "jóváírás", "nettó kifizetés",
        "de plată deponent", "de plată consignator", "de plată vânzător", "plată deponent", "net vânzător",
        "sumă virată", "virat", "sumă netă", "cuvenit deponent", "satıcıya ödenecek", "satıcıya ödenen",
        "hakediş", "net tutar", "ödenecek net", "net ödeme", "hesaba geçen", "αποδίδεται",
        "πληρωτέο στον πωλητή", "προς απόδοση", "καθαρό ποσό", "απόδοση", "정산금액", "정산액", "지급액",
        "판매자정산금", "입금액", "수령액", "정산예정금액", "實收金額", "实收金额", "應付寄售人",
        "賣家實收", "卖家实收", "撥款金額", "撥款", "结算金额", "結算金額", "應得金額", "入帳金額",
        "賣家所得", "valor líquido", "líquido a receber", "repasse", "valor do repasse", "til indleverer",
    ),
    "ask": (
        "irányár", "kért ár", "hirdetési ár", "meghirdetett ár", "listaár", "eredeti ár", "fix ár",
        "villámár", "kikiáltott irányár", "preț afișat", "preț cerut", "preț listă", "preț de listă",
        "preț inițial", "preț anunț", "preț solicitat", "istenen fiyat", "ilan fiyatı", "etiket fiyatı",
        "liste fiyatı", "talep edilen fiyat", "ζητούμενη τιμή", "τιμή αγγελίας", "τιμή καταλόγου",
        "αρχική τιμή πώλησης", "τιμή ετικέτας", "희망가", "희망가격", "판매희망가", "정가", "등록가",
        "등록가격", "즉시구매가", "定價", "定价", "標價", "标价", "開價", "开价", "刊登價", "刊登价",
        "直購價", "掛牌價", "原價", "原价", "mrp", "preço anunciado", "preço pedido",
    ),
    "low estimate": (
        "becsérték", "becsült érték", "becsült ár", "alsó becsérték", "becsérték alsó", "becslés",
        "estimare", "preț estimat", "valoare estimată", "estimare minimă", "tahmini değer", "tahmini fiyat",
        "tahmin", "alt tahmin", "ekspertiz değeri", "εκτίμηση", "εκτίμηση από", "χαμηλή εκτίμηση",
        "ελάχιστη εκτίμηση", "추정가", "추정가하한", "예상가", "하한추정가", "감정가", "估價", "估价",
        "估價下限", "估价下限", "低估價", "低估价", "最低估價", "預估價",
    ),
    "high estimate": (
        "felső becsérték", "becsérték felső", "estimare maximă", "üst tahmin", "εκτίμηση έως",
        "υψηλή εκτίμηση", "μέγιστη εκτίμηση", "추정가상한", "상한추정가", "估價上限", "估价上限", "高估價",
        "高估价", "最高估價",
    ),
    "start price": (
        "kikiáltási ár", "induló ár", "kezdő licit", "kezdőár", "minimálár", "limitár", "preț de pornire",
        "preț pornire", "preț de rezervă", "preț minim", "açılış fiyatı", "başlangıç fiyatı", "taban fiyat",
        "rezerv fiyat", "muhammen bedel", "τιμή εκκίνησης", "πρώτη προσφορά", "τιμή ασφαλείας",
        "ελάχιστη τιμή", "시작가", "시작가격", "최저가", "내정가", "起拍價", "起拍价", "起標價", "起标价",
        "底價", "底价", "保留價", "保留价", "lance inicial", "lance mínimo", "valor inicial",
    ),
    "cost": (
        "beszerzési ár", "beszerzés ára", "bekerülési ár", "önköltség", "haszon", "árrés", "preț achiziție",
        "preț de achiziție", "cost achiziție", "adaos", "profit", "marjă", "alış fiyatı", "alış bedeli",
        "maliyet", "kâr", "kar", "kar marjı", "τιμή αγοράς", "κόστος", "κόστος κτήσης", "κέρδος",
        "περιθώριο", "매입가", "매입금액", "원가", "이익", "마진", "進價", "进价", "成本", "進貨價", "毛利",
        "利潤", "利润", "custo", "custo de aquisição", "lucro", "nákupní cena",
    ),
    "rate": (
        "áfakulcs", "áfa kulcs", "áfa %", "cotă tva", "tva %", "kdv %", "kdv oranı", "φπα %",
        "συντελεστής φπα", "세율", "수수료율", "稅率", "佣金率", "gst %", "gst rate", "komisyon oranı",
        "προμήθεια %",
    ),
    "quantity": (
        "mennyiség", "darab", "db", "pár", "cantitate", "buc", "bucăți", "adet", "miktar", "çift",
        "ποσότητα", "τεμάχια", "τεμ", "수량", "개수", "數量", "数量", "件數", "件数", "prs", "pairs",
        "no of pairs", "par", "páry",
    ),
    "discount": (
        "kedvezmény", "engedmény", "reducere", "indirim", "iskonto", "έκπτωση", "할인", "할인금액", "折扣",
        "優惠", "优惠",
    ),
    "other amount": (
        "biztosítás", "csomagolás", "visszatérítés", "asigurare", "ambalaj", "rambursare", "sigorta",
        "iade tutarı", "paketleme", "ασφάλιση", "συσκευασία", "επιστροφή χρημάτων", "보험료", "환불금액",
        "포장비", "保險費", "保险费", "退款金額", "退款金额", "包裝費",
    ),
}  # fmt: skip
"""What an amount is → more words for it."""

NOT_READ: tuple[str, ...] = (
    "fizetés", "fizetés napja", "fizetve", "fizetési mód", "kifizetve", "kifizetés napja",
    "kifizetés dátuma", "fizetés dátuma", "szállítva", "feladva a futárnak", "kiszállítva", "átvéve",
    "beadás napja", "beszerzés napja", "beszerezve", "licitek", "licitek száma", "pénztár", "pénztáros",
    "kategória", "raktár", "esedékes", "data plății", "plătit la", "mod de plată", "modalitate de plată",
    "metodă de plată", "data livrării", "livrat la", "expediat", "data achiziției", "oferte", "nr oferte",
    "categorie", "casier", "scadență", "depozit", "ödeme", "ödeme tarihi", "ödeme şekli", "ödeme yöntemi",
    "ödeme türü", "kargo tarihi", "teslim tarihi", "alış tarihi", "teklif sayısı", "teklifler", "kategori",
    "kasiyer", "kasa", "depo", "vade", "satış temsilcisi", "πληρωμή", "τρόπος πληρωμής",
    "ημερομηνία πληρωμής", "ημ νία πληρωμής", "πληρώθηκε", "αποστολή στις", "εστάλη",
    "ημερομηνία αποστολής", "ημερομηνία παράδοσης", "ημερομηνία αγοράς", "προσφορές", "αριθμός προσφορών",
    "κατηγορία", "ταμίας", "αποθήκη", "결제수단", "결제방법", "결제일", "결제일시", "정산일", "정산일자",
    "입금일", "지급일", "발송일", "배송일", "배송방법", "매입일", "입찰수", "입찰횟수", "조회수",
    "카테고리", "창고", "담당자", "매장", "付款日", "付款日期", "付款時間", "付款时间", "付款方式",
    "支付方式", "出貨日", "出貨日期", "发货时间", "發貨日期", "撥款日", "撥款日期", "結算日", "结算日期",
    "匯款日", "進貨日", "收貨日", "取回日", "出價次數", "出价次数", "出價數", "競標次數", "瀏覽數",
    "瀏覽次數", "分類", "分类", "類別", "类别", "倉庫", "仓库", "店員", "經手人", "mode", "mode of payment",
    "payment mode", "data do repasse", "data repasse", "parcelas", "forma de pagamento", "nº de lances",
    "quantidade de lances", "tipo", "gegenkonto", "konto", "datum nákupu", "nakoupeno", "købt den af os",
    "indleverer", "indl nr", "beadó száma", "maksutapa",
)  # fmt: skip
"""More words of columns that no field of a sale record is read from."""

STATUSES: dict[str, tuple[str, ...]] = {
    "sold": (
        "elkelt", "eladva", "eladott", "kifizetve", "teljesítve", "leütve", "kész", "lezárva", "igen",
        "átadva", "vândut", "vândută", "adjudecat", "plătit", "plătită", "finalizat", "finalizată",
        "livrat", "achitat", "decontat", "da", "satıldı", "satılmış", "ödendi", "tamamlandı",
        "teslim edildi", "kargolandı", "evet", "πωλήθηκε", "πωληθέν", "πουλήθηκε", "κατακυρώθηκε",
        "πληρώθηκε", "ολοκληρώθηκε", "παραδόθηκε", "εξοφλήθηκε", "ναι", "판매완료", "낙찰", "거래완료",
        "결제완료", "구매확정", "배송완료", "정산완료", "판매됨", "완료", "成交", "已售", "已售出", "售出",
        "已成交", "已付款", "已完成", "已結標", "得標", "得标", "拍出", "已出貨", "已發貨", "已结算",
        "已結算", "交易完成", "aprovado", "aprovada", "repassado", "paid in full",
    ),
    "unsold": (
        "nem kelt el", "nem eladott", "eladatlan", "lejárt", "bent maradt", "bennmaradt", "visszamaradt",
        "licit nélkül", "nem érte el a limitárat", "nem", "nevândut", "nevândută", "neadjudecat", "expirat",
        "expirată", "fără oferte", "nu", "satılmadı", "süresi doldu", "teklif gelmedi", "rezerv altında",
        "hayır", "απούλητο", "δεν πωλήθηκε", "δεν κατακυρώθηκε", "έληξε", "χωρίς προσφορά", "όχι", "유찰",
        "미판매", "미낙찰", "판매실패", "기간만료", "流標", "流拍", "未售出", "未售", "未成交", "已過期",
        "過期", "未達底價", "无人出价", "無人出價", "não arrematado", "sem arremate",
    ),
    "withdrawn": (
        "visszavonva", "visszavont", "retras", "retrasă", "refuzat", "geri çekildi", "reddedildi",
        "αποσύρθηκε", "απορρίφθηκε", "출품취소", "철회", "撤拍", "撤回", "已撤回", "已取回", "取回",
        "下架", "已下架", "recusado", "recusada", "contestado", "udgået", "udtaget",
    ),
    "returned": (
        "visszaküldve", "visszavéve", "returnat", "returnată", "restituit", "iade", "iade edildi",
        "επιστράφηκε", "επιστροφή", "반품", "반품완료", "退貨", "已退貨", "退货",
    ),
    "refunded": (
        "visszatérítve", "rambursat", "rambursată", "환불", "환불완료", "退款", "已退款", "estornado", "fully refunded",
    ),
    "cancelled": (
        "törölve", "törölt", "lemondva", "sztornó", "sztornózva", "meghiúsult", "anulat", "anulată", "iptal",
        "iptal edildi", "ακυρώθηκε", "취소", "주문취소", "거래취소", "판매취소", "취소완료",
        "取消", "已取消", "棄標", "弃标",
    ),
    "unpaid": (
        "kifizetetlen", "neplătit", "ödenmedi", "απλήρωτο", "미결제", "未付款",
    ),
    "open": (
        "aktív", "folyamatban", "fizetésre vár", "függőben", "foglalt", "lefoglalva", "elérhető",
        "raktáron", "polcon", "eladó", "la raft", "activ", "activă", "în curs", "în așteptare", "rezervat",
        "rezervată", "în vânzare", "disponibil", "în stoc", "yayında", "aktif", "satışta", "beklemede",
        "ödeme bekleniyor", "rezerve", "rafta", "ενεργό", "ενεργή", "σε εξέλιξη", "σε αναμονή", "εκκρεμεί",
        "δεσμευμένο", "διαθέσιμο", "στο ράφι", "판매중", "진행중", "예약중", "결제대기", "입금대기", "대기",
        "배송중", "寄售中", "上架中", "販售中", "出售中", "在售", "拍賣中", "拍卖中", "競標中", "待付款",
        "處理中", "处理中", "保留中", "預訂", "hyllyssä", "myynnissä",
    ),
}  # fmt: skip
"""Status → more words of status columns for it."""

STEMS: dict[str, tuple[str, ...]] = {
    "not": (
        "nem", "nélkül", "nincs", "nu", "fără", "neîncă", "değil", "yok", "δεν", "χωρίς", "όχι", "未",
        "沒有", "无", "無",
    ),
    "paid": (
        "kifizet", "fizetve", "plătit", "achitat", "ödendi", "ödenmiş", "πληρωμέν", "πληρώθηκ", "εξοφλ",
        "결제완료", "입금완료", "已付款", "已付", "付清",
    ),
    "done": (
        "kiszállít", "átad", "teljesít", "lezár", "livrat", "expediat", "finaliz", "decont", "teslim",
        "kargolan", "tamamlan", "παραδόθηκ", "ολοκληρώθηκ", "αποστάλ", "εστάλη", "배송완료", "구매확정",
        "정산완료", "거래완료", "已出貨", "已發貨", "已完成", "完成", "已結算", "已结算",
    ),
    "sold": (
        "elkelt", "eladva", "eladott", "leütöt", "leütve", "vândut", "adjudec", "satıldı", "satılmış",
        "πωλήθηκ", "πουλήθηκ", "κατακυρώθηκ", "판매완료", "낙찰", "판매됨", "成交", "售出", "已售", "得標",
        "得标", "拍出",
    ),
    "unsold": (
        "eladatlan", "lejárt", "bennmarad", "visszamarad", "nevândut", "neadjudec", "expirat", "satılmadı",
        "süresi dol", "teklif yok", "teklif gelme", "απούλητ", "έληξ", "유찰", "미판매", "미낙찰",
        "기간만료", "流標", "流拍", "未售", "未成交", "過期", "过期", "未達底價", "無人出價",
    ),
    "withdrawn": (
        "visszavon", "retras", "geri çek", "αποσύρθηκ", "철회", "撤拍", "撤回", "取回", "下架", "recus", "contestad",
        "taken down",
    ),
    "returned": (
        "visszaküld", "returnat", "restituit", "iade", "επιστράφηκ", "επιστροφ", "반품", "退貨", "退货",
    ),
    "refunded": (
        "visszatérít", "ramburs", "환불", "退款",
    ),
    "cancelled": (
        "töröl", "lemond", "sztorn", "meghiúsul", "elállás", "anulat", "iptal", "vazgeç", "ακυρώθηκ", "취소",
        "棄標", "弃标", "backed out", "pulled out", "changed mind",
    ),
    "unpaid": (
        "neplătit", "ödenmed", "απλήρωτ", "미결제", "未付款", "never paid",
    ),
    "open": (
        "aktív", "folyamatban", "függőben", "foglal", "várakoz", "fizetésre vár", "elérhető", "activ",
        "așteptare", "rezervat", "vânzare", "disponibil", "yayında", "satışta", "bekle", "ενεργ", "εξέλιξη",
        "αναμονή", "εκκρεμ", "διαθέσιμ", "판매중", "진행중", "예약중", "결제대기", "입금대기", "寄售中",
        "上架中", "販售中", "出售中", "在售", "競標中", "待付款", "處理中",
    ),
}  # fmt: skip
"""Status → more stems of words for it."""

MARGIN: tuple[str, ...] = (
    "különbözeti adózás", "árrés adózás", "regimul marjei", "marjă tva", "özel matrah",
    "καθεστώς περιθωρίου", "마진과세", "利潤課稅", "differenzbesteuerung", "dph z přirážky",
    "přirážka z marže", "marginalskatteordning",
)  # fmt: skip
"""More words that say that tax was paid on the seller's margin alone."""

SELLER: tuple[str, ...] = (
    "eladó", "eladónak", "beadó", "beadónak", "bizományba adó", "deponent", "vânzător", "consignator",
    "satıcı", "satıcıya", "emanetçi", "πωλητής", "πωλητή", "καταθέτης", "판매자", "위탁자", "賣家", "卖家",
    "賣方", "卖方", "寄售人", "委託人",
)  # fmt: skip
"""More words for the one whose pair is sold."""

INCLUDING: tuple[str, ...] = (
    "együtt", "tartalmaz", "inclusiv", "cu", "dahil", "με", "συμπεριλαμβανομένου", "포함", "含",
    "inclusive of",
)  # fmt: skip

EXCLUDING: tuple[str, ...] = (
    "nélkül", "fără", "hariç", "χωρίς", "προ", "별도", "제외", "不含", "未含", "net of", "exclusive of",
)  # fmt: skip

UNIT: tuple[str, ...] = (
    "egységár", "darabár", "unitar", "preț unitar", "birim", "birim fiyat", "μονάδας", "τιμή μονάδας",
    "단가", "單價", "单价",
)  # fmt: skip
"""More words for the price of one piece of several."""
