"""The words by which exports of the trade head their columns, in the languages that dealers meet."""

FIELD_WORDS: dict[str, tuple[str, ...]] = {
    "venue": (
        "venue", "where", "house", "auction house", "marketplace", "haus", "ort", "maison", "会場",
    ),
    "sale_ref": (
        "sale", "sale no", "sale number", "auction", "auction no", "auction number", "auktion",
        "auktionsnummer", "vente", "vente no", "numero de vente", "asta", "subasta", "veiling", "セール",
        "開催回",
    ),
    "lot_ref": (
        "lot", "lot no", "lot number", "los", "losnummer", "los-nr", "losnr", "item", "item id",
        "item number", "listing", "listing id", "ad id", "nr", "no", "numero", "lotto", "lote", "kavel",
        "kavelnummer", "ロット", "ロット番号", "番号", "出品番号", "article", "artikelnummer",
    ),
    "stock_ref": (
        "stock", "stock no", "stock number", "stock ref", "sku", "your ref", "your reference", "ihre nr",
        "ihre nummer", "our ref", "inventory", "inventory no", "lagernummer", "bestandsnummer",
        "reference", "ref", "votre ref", "custom label", "在庫番号", "管理番号",
    ),
    "title": (
        "title", "description", "lot title", "lot description", "item title", "name", "bezeichnung",
        "titel", "beschreibung", "titre", "designation", "intitule", "titolo", "descrizione", "titulo",
        "descripcion", "omschrijving", "商品名", "品名", "タイトル", "説明",
    ),
    "notes": (
        "notes", "note", "comment", "comments", "remark", "remarks", "bemerkung", "bemerkungen",
        "anmerkung", "hinweis", "remarque", "remarques", "osservazioni", "notas", "opmerking", "備考",
        "condition report",
    ),
    "status": (
        "status", "state", "result", "outcome", "sold", "ergebnis", "stand", "zustand der auktion",
        "verkauft", "resultat", "etat", "statut", "esito", "stato", "estado", "resultado", "uitslag",
        "結果", "状況", "ステータス",
    ),
    "offered_on": (
        "listed", "listed on", "list date", "start", "start date", "offered", "shelved", "eingestellt",
        "eingestellt am", "beginn", "mis en vente", "debut", "inizio", "inicio", "出品日", "開始日",
    ),
    "closed_on": (
        "date", "sale date", "auction date", "end", "ended", "end date", "closed", "closing date",
        "closes", "datum", "auktionsdatum", "ende", "enddatum", "date de vente", "date vente", "data",
        "fecha", "終了日", "落札日", "日付", "開催日",
    ),
    "sold_on": (
        "sold on", "date sold", "sold date", "verkauft am", "verkaufsdatum", "vendu le", "販売日",
    ),
    "currency": (
        "currency", "ccy", "waehrung", "wahrung", "devise", "monnaie", "valuta", "moneda", "munt", "通貨",
    ),
    "price_native": (
        "price", "hammer", "hammer price", "sold for", "sold price", "sale price", "realised", "realized",
        "paid", "price realised", "price realized", "amount", "total", "zuschlag", "zuschlagspreis",
        "preis", "verkaufspreis", "erloes", "erlos", "endpreis", "prix", "prix marteau",
        "prix d'adjudication", "adjudication", "prezzo", "aggiudicazione", "precio", "remate", "prijs",
        "hamerprijs", "価格", "落札価格", "販売価格", "金額",
    ),
    "ask_native": (
        "ask", "asked", "asking", "asking price", "list price", "start price", "low estimate",
        "estimate low", "low est", "estimate from", "reserve", "schaetzpreis ab", "schatzpreis ab",
        "schaetzpreis", "schatzpreis", "limit", "startpreis", "aufruf", "estimation basse", "mise a prix",
        "stima minima", "precio de salida", "開始価格", "最低落札価格", "予想価格下限",
    ),
    "maker": (
        "maker", "brand", "manufacturer", "hersteller", "marke", "marque", "marca", "merk", "メーカー",
        "ブランド",
    ),
    "silhouette": (
        "silhouette", "model", "style", "modell", "modele", "modello", "modelo", "モデル", "型",
    ),
    "colourway": (
        "colourway", "colorway", "colour", "color", "farbe", "farbstellung", "couleur", "coloris",
        "colore", "kleur", "カラー", "色",
    ),
    "era": (
        "era", "run", "series", "serie", "generation", "auflage", "epoque", "年代", "世代",
    ),
    "size_label": (
        "size", "size label", "size (cm)", "groesse", "grosse", "schuhgroesse", "schuhgrosse", "taille",
        "pointure", "taglia", "numero scarpa", "talla", "maat", "サイズ",
    ),
    "size_system": (
        "size system", "sizing", "groessensystem",
    ),
    "grade": (
        "grade", "condition", "condition grade", "zustand", "erhaltung", "note d'etat", "condizione",
        "condicion", "conditie", "コンディション", "状態",
    ),
    "box": (
        "box", "with box", "original box", "karton", "schachtel", "boite", "scatola", "caja", "doos", "箱",
        "外箱",
    ),
    "tags": (
        "tags", "tag", "hang tags", "etikett", "etiketten", "etiquettes", "cartellini", "タグ",
    ),
    "parts": (
        "parts", "accessories", "extras", "zubehoer", "zubehor", "accessoires", "accessori", "付属品",
    ),
    "overlay": (
        "overlay", "overlays", "auflagen", "besatz",
    ),
    "lasting": (
        "lasting", "last", "leisten",
    ),
    "defects": (
        "defects", "faults", "flaws", "damage", "maengel", "mangel", "schaeden", "defauts", "difetti",
        "defectos", "ダメージ",
    ),
    "treatments": (
        "treatments", "restoration", "restored", "work done", "behandlung", "restaurierung",
        "restauration", "補修",
    ),
    "stamp_text": (
        "stamp", "label", "production stamp", "date code", "stempel", "tampon", "timbro", "sello",
        "ラベル", "刻印",
    ),
}  # fmt: skip
"""Field of a sale record → words for it, folded as column names are compared."""

BASIS_WORDS: dict[str, tuple[str, ...]] = {
    "hammer": (
        "hammer", "zuschlag", "marteau", "adjudication", "aggiudicazione", "remate", "hamerprijs",
        "落札価格",
    ),
    "all-in": (
        "all-in", "all in", "incl premium", "including premium", "inkl aufgeld", "with premium",
        "total paid", "premium price", "frais compris", "手数料込",
    ),
    "net": (
        "net", "proceeds", "payout", "auszahlung", "erloes", "erlos", "netto", "produit net", "手取り",
    ),
}  # fmt: skip
"""Price basis → words in a price column's name that say it."""

STATUS_WORDS: dict[str, tuple[str, ...]] = {
    "sold": (
        "sold", "yes", "paid", "completed", "hammered", "zugeschlagen", "verkauft", "vendu", "adjuge",
        "venduto", "vendido", "verkocht", "落札", "売却済", "成約", "after-sale", "sold after sale",
        "nachverkauf",
    ),
    "unsold": (
        "unsold", "not sold", "passed", "bought in", "ended", "expired", "no", "zurueck", "zuruck",
        "nicht verkauft", "unverkauft", "rueckgang", "invendu", "ravale", "invenduto", "no vendido",
        "onverkocht", "流札", "不成立", "given back",
    ),
    "withdrawn": (
        "withdrawn", "pulled", "cancelled", "canceled", "removed", "zurueckgezogen", "zuruckgezogen",
        "retire", "ritirato", "retirado", "teruggetrokken", "取下", "取消",
    ),
    "open": (
        "open", "live", "active", "on the shelf", "upcoming", "laufend", "aktiv", "en cours", "attivo",
        "出品中",
    ),
}  # fmt: skip
"""Status → words of status columns for it, folded."""

NOT_READ_WORDS: tuple[str, ...] = (
    "high estimate", "estimate high", "high est", "estimate to", "schaetzpreis bis", "schatzpreis bis",
    "estimation haute", "stima massima", "予想価格上限", "buyer's premium", "premium", "aufgeld", "vat",
    "tax", "mwst", "shipping", "versand", "payment", "url", "link", "image", "bild", "views", "watchers",
    "bids", "gebote",
)  # fmt: skip
"""Words of columns that no field of a sale record is read from."""
