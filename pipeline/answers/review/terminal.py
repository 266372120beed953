"""What awaits the owner's ruling."""

from rich.markup import escape

from pipeline.answers.review.run import Review
from pipeline.terminal.console import OUT


def show_review(review: Review) -> None:
    """Print what awaits a ruling, and the rulings so far."""
    OUT.print(
        f'[bold]{len(review.near_matches)} pairs of sales may be one[/bold] (`pairband rule "same sale" ID ID`)'
    )
    for match in review.near_matches:
        OUT.print(f"  {match['left_id']} {match['right_id']}  {escape(match['why'])}", soft_wrap=True)
        for side in ("left", "right"):
            day, price = match[f"{side}_day"], match[f"{side}_price"]
            OUT.print(
                f"    {day} {escape(str(match[f'{side}_venue']))}: {escape(str(match[f'{side}_title'])[:90])}, "
                f"{'no price' if price is None else f'{price:,.2f}'}",
                soft_wrap=True,
            )
    OUT.print(
        f"[bold]{len(review.held_sales)} sales are held out of the fit[/bold] (`pairband rule era ID --era NAME`)"
    )
    for sale in review.held_sales:
        OUT.print(
            f"  {sale['record_id']} {sale['day']} {escape(str(sale['title'])[:70])}: {', '.join(sale['flags'])} "
            f"(era {sale['era']}, {sale['era_origin']}; stamp {escape(str(sale['stamp_text']))})",
            soft_wrap=True,
        )
    OUT.print(f"[bold]{len(review.rulings)} rulings so far[/bold]")
    for ruling in review.rulings:
        OUT.print(
            "  " + escape(", ".join(f"{key} {value}" for key, value in ruling.items() if value)),
            soft_wrap=True,
        )
