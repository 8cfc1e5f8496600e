"""Flags of ``laidup completion``."""

from monitor.commands.parsers.flags import Children, DeferredFunction


def add_parser(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "completion",
        help=about,
        description=(
            "Prints a few lines for the shell; once for each user: bash, `laidup completion bash >"
            " ~/.local/share/bash-completion/completions/laidup`; zsh, into a file _laidup of its"
            " fpath; fish, `laidup completion fish > ~/.config/fish/completions/laidup.fish`."
            " Needs the extra shell."
        ),
    )
    parser.add_argument("shell", choices=("bash", "zsh", "fish"))
    parser.set_defaults(run=DeferredFunction("monitor.commands.completion", "run"))
