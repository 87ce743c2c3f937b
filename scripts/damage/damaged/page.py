from .kinds import Kind
def differences(kinds: list[Kind]) -> list[str]: return []
